"""What lets a phone keep the program, take messages, and do without a connection."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_safe

from studio.http import StudioRequest, public, requires, who
from studio.roles import Can


@require_safe
@public
def manifest(request: HttpRequest) -> HttpResponse:
    """Describe the program to a home screen (W3C Web Application Manifest)."""
    answer = JsonResponse(
        {
            "id": "/",
            "name": "Slowcool",
            "short_name": "Slowcool",
            "start_url": reverse("studio:today"),
            "scope": "/",
            "display": "standalone",
            "icons": [
                {
                    "src": static(f"studio/icons/home-{size}.png"),
                    "sizes": f"{size}x{size}",
                    "type": "image/png",
                    "purpose": "any maskable",
                }
                for size in (192, 512)
            ],
        }
    )
    answer["Content-Type"] = "application/manifest+json"
    return answer


@require_safe
@public
def worker_script(request: HttpRequest) -> HttpResponse:
    """Send the service worker: a few lines that load its parts, at the root."""
    parts = [
        static("studio/js/push_worker.js"),
        static("studio/js/offline_worker.js"),
    ]
    loads = ", ".join(f'"{part}"' for part in parts)
    return HttpResponse(
        f"importScripts({loads});\n", content_type="text/javascript; charset=utf-8"
    )


@require_safe
@public
def offline(request: HttpRequest) -> HttpResponse:
    """Send the page that a browser shows in place of one it cannot reach."""
    return render(request, "studio/offline.html")


@require_safe
@requires(Can.SEE_WORK)
def offline_token(request: StudioRequest) -> HttpResponse:
    """Tell a browser that has the connection back who is signed in, with a fresh token."""
    return JsonResponse({"token": get_token(request), "who": who(request)})
