"""Signing in and out, and choosing between several studios."""

from typing import Any

from django.contrib.auth import views as auth_views
from django.contrib.auth.forms import AuthenticationForm
from django.http import HttpRequest, HttpResponse

from studio.http import public

_sign_in = auth_views.LoginView.as_view(
    template_name="studio/sign_in.html",
    authentication_form=AuthenticationForm,
    redirect_authenticated_user=True,
)
_sign_out = auth_views.LogoutView.as_view()


@public
def sign_in(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    """Ask for e-mail address and password; repeated failures lock for an hour."""
    return _sign_in(request, **kwargs)


@public
def sign_out(request: HttpRequest) -> HttpResponse:
    """Sign out; by POST only, so that no link or picture does it."""
    return _sign_out(request)
