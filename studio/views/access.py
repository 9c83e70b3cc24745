"""Signing in and out, one's own password, and choosing between several studios."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import views as auth_views
from django.contrib.auth.forms import AuthenticationForm, SetPasswordForm
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse_lazy
from django.views.decorators.http import require_POST

from studio.forms.accounts import NewPasswordForm, SignInForm
from studio.http import OPEN_STUDIO, StudioRequest, public, requires
from studio.roles import Can
from studio.selectors import people
from studio.services.accounts import password_links

_sign_out = auth_views.LogoutView.as_view()
_password = auth_views.PasswordChangeView.as_view(
    template_name="studio/password_form.html",
    success_url=reverse_lazy("studio:settings"),
)


class _SignIn(auth_views.LoginView):
    template_name = "studio/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(has_demo=people.has_demo(), **kwargs)

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


_sign_in = _SignIn.as_view()


class _PasswordSet(auth_views.PasswordResetConfirmView):
    template_name = "studio/password_set.html"
    form_class = NewPasswordForm
    success_url = reverse_lazy("studio:sign_in")
    token_generator = password_links

    def form_valid(self, form: "SetPasswordForm[Any]") -> HttpResponse:
        messages.success(self.request, "Your password is set. Sign in with it.")
        return super().form_valid(form)

    def form_invalid(self, form: "SetPasswordForm[Any]") -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


_password_set = _PasswordSet.as_view()


@public
def sign_in(request: HttpRequest, **kwargs: Any) -> HttpResponseBase:
    """Ask for e-mail address and password; repeated failures lock for an hour."""
    return _sign_in(request, **kwargs)


@public
def sign_out(request: HttpRequest) -> HttpResponseBase:
    """Sign out; by POST only, so that no link or picture does it."""
    return _sign_out(request)


@public
def password_set(request: HttpRequest, **kwargs: Any) -> HttpResponseBase:
    """Set a password by a link that works once; another page says that it is used."""
    return _password_set(request, **kwargs)


@requires(Can.SEE_WORK)
def password_change(request: StudioRequest) -> HttpResponseBase:
    """Change one's own password, with the old one."""
    response = _password(request)
    if response.status_code == 302:
        messages.success(request, "Your password is changed.")
    elif request.method == "POST":
        response.status_code = 422
    return response


@require_POST
@requires(Can.SEE_WORK)
def studio_switch(request: StudioRequest) -> HttpResponse:
    """Switch to another of the person's studios."""
    asked = request.POST.get("studio", "")
    mine = {str(m.studio_id): m for m in people.memberships_of(request.user)}
    if asked not in mine:
        raise Http404("You do not belong to that studio.")
    request.session[OPEN_STUDIO] = mine[asked].studio_id
    messages.success(request, f"You are in {mine[asked].studio} now.")
    return redirect("studio:today")
