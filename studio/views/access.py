"""Signing in and out, one's own password, and choosing between several studios."""

import math
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout
from django.contrib.auth import views as auth_views
from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.forms import (
    AuthenticationForm,
    PasswordChangeForm,
    SetPasswordForm,
)
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from studio.forms.accounts import CodeForm, NewPasswordForm, PasswordForm, SignInForm
from studio.http import (
    OK,
    OPEN_STUDIO,
    SECOND_STEP_TAKEN,
    StudioRequest,
    attempt,
    client_address,
    own_membership_or_404,
    posted,
    public,
    requires,
)
from studio.roles import Can
from studio.selectors import people, second_step
from studio.services import known_devices
from studio.services.accounts import password_links
from studio.services.devices import begin_session, end_devices
from studio.services.second_step import take_new_tries
from studio.services.throttle import (
    check_code,
    is_locked,
    opens_in,
    unlock,
    was_guessed_here,
)

if TYPE_CHECKING:
    from studio.models import Person

WAITING = "waiting_for_second_step"
"""Session key: who gave the right password, when, and where they want to go."""

WAITING_SECONDS = 600
PASSWORDS = "django.contrib.auth.backends.ModelBackend"

_sign_out = auth_views.LogoutView.as_view()


class _SignIn(auth_views.LoginView):
    template_name = "studio/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(has_demo=people.has_demo(), **kwargs)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        person = form.get_user()
        if second_step.is_on(person):
            self.request.session[WAITING] = {
                "person": person.pk,
                "hash": person.get_session_auth_hash(),
                "at": timezone.now().timestamp(),
                "next": self.get_success_url(),
            }
            return redirect("studio:sign_in_code")
        response = super().form_valid(form)
        remember_device(self.request, response, person)
        return response

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


_sign_in = _SignIn.as_view()


class _Password(auth_views.PasswordChangeView):
    template_name = "studio/password_form.html"
    form_class = PasswordForm
    success_url = reverse_lazy("studio:signing_in")

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "request": self.request}

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        response = super().form_valid(form)
        # This session goes on under another key, the others are over.
        begin_session(
            self.request.session,
            person=form.user,
            address=client_address(self.request),
            user_agent=self.request.headers.get("User-Agent", ""),
            at=timezone.now(),
        )
        end_devices(person=form.user, but=self.request.session.session_key)
        remember_device(self.request, response, form.user)
        return response


_password = _Password.as_view()


def remember_device(
    request: HttpRequest, response: HttpResponseBase, person: "Person"
) -> None:
    """Let the device be known as one on which the person has signed in."""
    name = settings.DEVICE_COOKIE_NAME
    response.set_cookie(
        name,
        known_devices.with_person(request.COOKIES.get(name, ""), person),
        max_age=known_devices.KEPT_SECONDS,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def locked_out(
    request: HttpRequest, response: HttpResponseBase, credentials: object
) -> HttpResponse:
    """Answer instead of the page when too many passwords were wrong.

    Whoever is signed in and guesses the old password is signed out; whom a stranger's
    guesses locked is not.
    """
    now = timezone.now()
    waiting = _waiting(request)
    name = waiting.email if waiting else request.POST.get("username", "")
    if isinstance(request.user, AbstractBaseUser):
        name = request.user.get_username()
        if was_guessed_here(request, name, at=now):
            logout(request)
    left = opens_in(request, name, at=now)
    context = {
        # In steps of five minutes: nobody waits by the second.
        "minutes": max(5, math.ceil(left.total_seconds() / 300) * 5),
        "form": SignInForm(request, initial={"username": name}),
        "next": request.POST.get("next", ""),
    }
    return render(request, "studio/locked_out.html", context, status=429)


class _PasswordSet(auth_views.PasswordResetConfirmView):
    template_name = "studio/password_set.html"
    form_class = NewPasswordForm
    success_url = reverse_lazy("studio:sign_in")
    token_generator = password_links

    def form_valid(self, form: "SetPasswordForm[Any]") -> HttpResponse:
        response = super().form_valid(form)
        # Only the person has the link, so strangers' failures end here.
        unlock(form.user)
        take_new_tries(person=form.user)
        if self.request.user == form.user:
            # Their session here ends with the others; one that is gone saves nothing.
            logout(self.request)
        end_devices(person=form.user)
        messages.success(self.request, "Your password is set. Sign in with it.")
        remember_device(self.request, response, form.user)
        return response

    def form_invalid(self, form: "SetPasswordForm[Any]") -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


_password_set = _PasswordSet.as_view()


@public
def sign_in(request: HttpRequest, **kwargs: Any) -> HttpResponseBase:
    """Ask for e-mail address and password."""
    return _sign_in(request, **kwargs)


@never_cache
@require_http_methods(["GET", "POST"])
@public
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """Ask for a code after the right password, and only then let in."""
    person = _waiting(request)
    if person is None:
        return redirect("studio:sign_in")
    form = CodeForm(posted(request))
    status = OK
    if request.method == "POST" and not is_locked(request, person):
        now = timezone.now()
        status = attempt(
            form,
            lambda: check_code(
                request, person=person, code=form.cleaned_data["code"], at=now
            ),
        )
        if status == OK:
            wanted: str = request.session.pop(WAITING)["next"]
            login(request, person, backend=PASSWORDS)
            request.session[SECOND_STEP_TAKEN] = True
            response = redirect(wanted)
            remember_device(request, response, person)
            return response
    return render(request, "studio/sign_in_code.html", {"form": form}, status=status)


def _waiting(request: HttpRequest) -> "Person | None":
    """Return who gave the right password a moment ago, unless it has changed since."""
    waiting = request.session.get(WAITING)
    if not waiting:
        return None
    if timezone.now().timestamp() - waiting["at"] > WAITING_SECONDS:
        return None
    person = people.person_who_may_sign_in(waiting["person"])
    if person is None or not constant_time_compare(
        waiting["hash"], person.get_session_auth_hash()
    ):
        return None
    return person


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
    membership = own_membership_or_404(request)
    request.session[OPEN_STUDIO] = membership.studio_id
    messages.success(request, f"You are in {membership.studio} now.")
    return redirect("studio:today")
