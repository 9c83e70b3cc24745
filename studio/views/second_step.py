"""Setting up the second step of signing in, its recovery codes, and turning it off."""

from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from studio.answers import FormPage, WayBack, answer_form, form_page
from studio.forms.accounts import CodeForm, PasswordAndCodeForm, PasswordNowForm
from studio.http import (
    OK,
    SECOND_STEP_TAKEN,
    StudioRequest,
    attempt,
    needs_second_step,
    posted,
    render_page,
    requires,
)
from studio.roles import Can
from studio.selectors import second_step as reads
from studio.services import second_step as steps
from studio.services.devices import end_devices
from studio.services.throttle import check_code

BEGUN = "second_step_begun"
"""Session key: the secret that may be shown here, where the password was typed for it."""


WHY = (
    "After your password, signing in asks for a code that an app on your phone shows: "
    "any app for one-time codes. A stolen password then opens nothing."
)
MUST = "Owners sign in with a second step. Set it up now, then you go on. "


def _back() -> WayBack:
    return {"back_url": reverse("studio:signing_in"), "back_label": "Signing in"}


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK, even_before_second_step=True)
def second_step(request: StudioRequest) -> HttpResponse:
    """Begin to set up the second step, with one's password."""
    if reads.is_on(request.user):
        if needs_second_step(request):
            # Signed in before it was turned on, and asked for no code.
            logout(request)
        return redirect("studio:signing_in")
    form = PasswordNowForm(posted(request), request=request)
    status = OK
    if request.method == "POST":
        begun: list[int] = []
        status = attempt(form, lambda: begun.append(steps.begin(person=request.user)))
        if status == OK:
            request.session[BEGUN] = begun[0]
            return redirect("studio:second_step_confirm")
    page = FormPage(
        title="Set up the second step",
        submit="Next",
        intro=(MUST if needs_second_step(request) else "") + WHY,
        **_back(),
    )
    return form_page(request, page, form, status)


@never_cache
@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK, even_before_second_step=True)
def second_step_confirm(request: StudioRequest) -> HttpResponse:
    """Show the secret to the app, and turn the second step on with its first code."""
    now = timezone.now()
    begun: int = request.session.get(BEGUN, 0)
    secret = reads.secret_being_set_up(request.user, begun, now=now)
    if secret is None:
        return redirect("studio:second_step")
    form = CodeForm(posted(request))
    made: list[str] = []
    status = OK
    if request.method == "POST":
        status = attempt(
            form,
            lambda: made.extend(
                steps.confirm(
                    person=request.user,
                    begun=begun,
                    code=form.cleaned_data["code"],
                    at=now,
                )
            ),
        )
        if status == OK:
            del request.session[BEGUN]
            request.session[SECOND_STEP_TAKEN] = True
            # They were let in by the password alone.
            end_devices(person=request.user, but=request.session.session_key)
            return _show_codes(request, made, told="The second step is on.")
    context = {"secret": secret, "form": form}
    return render_page(request, "studio/second_step.html", context, status=status)


@never_cache
@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def recovery_codes_new(request: StudioRequest) -> HttpResponse:
    """Make ten new recovery codes and show them, only this once."""
    now = timezone.now()
    form = PasswordAndCodeForm(posted(request), request=request)
    made: list[str] = []
    status = OK
    if request.method == "POST":

        def make() -> None:
            check_code(
                request, person=request.user, code=form.cleaned_data["code"], at=now
            )
            made.extend(steps.make_codes(person=request.user))

        status = attempt(form, make)
        if status == OK:
            return _show_codes(request, made, told="The old codes no longer work.")
    page = FormPage(
        title="New recovery codes",
        submit="Make new codes",
        intro="The codes you have now stop working.",
        **_back(),
    )
    return form_page(request, page, form, status)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def second_step_off(request: StudioRequest) -> HttpResponse:
    """Turn the second step off, with the password and a code."""
    now = timezone.now()
    form = PasswordAndCodeForm(posted(request), request=request)
    page = FormPage(
        title="Turn the second step off",
        submit="Turn off",
        intro="Your password alone then lets you in. For another phone, turn it off and "
        "set it up again there.",
        is_danger=True,
        **_back(),
    )

    def turn_off() -> None:
        check_code(request, person=request.user, code=form.cleaned_data["code"], at=now)
        steps.turn_off(person=request.user)
        request.session.pop(SECOND_STEP_TAKEN, None)
        end_devices(person=request.user, but=request.session.session_key)

    return answer_form(request, page, form, turn_off, told="The second step is off.")


def _show_codes(request: StudioRequest, codes: list[str], *, told: str) -> HttpResponse:
    messages.success(request, told)
    return render_page(request, "studio/recovery_codes.html", {"codes": codes})
