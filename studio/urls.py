"""All addresses: the studio's own, then those of the higher apps, named by string."""

from django.urls import include, path

from studio.views import access, health

studio_patterns = (
    [
        path("healthz", health.process_up, name="process_up"),
        path("readyz", health.ready, name="ready"),
        path("sign-in/", access.sign_in, name="sign_in"),
        path("sign-out/", access.sign_out, name="sign_out"),
    ],
    "studio",
)

urlpatterns = [
    path("", include(studio_patterns)),
    path("", include("firing.urls")),
    path("", include("commissions.urls")),
]

handler403 = "studio.views.errors.forbidden"
handler404 = "studio.views.errors.not_found"
handler500 = "studio.views.errors.server_error"
