"""The people of a studio: added, given another role, let back in. For owners."""

from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from studio.answers import FormPage, WayBack, form_page
from studio.errors import StudioError
from studio.forms.people import MemberForm, NewMemberForm
from studio.http import (
    OK,
    REFUSED,
    StudioRequest,
    attempt,
    posted,
    render_page,
    requires,
)
from studio.roles import Can
from studio.services.people import Welcome, add_member, change_member, give_new_password
from studio.views.found import member_or_404

if TYPE_CHECKING:
    from studio.models import Membership, Person


def _back() -> WayBack:
    return {"back_url": reverse("studio:settings"), "back_label": "Settings"}


@never_cache
@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def member_new(request: StudioRequest) -> HttpResponse:
    """Add a person to the studio and show their password, only this once."""
    form = NewMemberForm(posted(request))
    status = OK
    if request.method == "POST":
        now = timezone.now()
        made: list[Welcome] = []
        status = attempt(
            form,
            lambda: made.append(
                add_member(
                    studio=request.studio, by=request.user, at=now, **form.cleaned_data
                )
            ),
        )
        if status == OK:
            person = made[0].membership.person
            if made[0].password:
                return _tell_password(request, person, made[0].password)
            messages.success(
                request,
                f"{person} belongs to the studio now and signs in as in their other one.",
            )
            return redirect("studio:settings")
    page = FormPage(
        title="Add a person",
        submit="Add this person",
        intro="Owners and makers see money. Makers plan pieces. Helpers record work and "
        "see no money; technicians look after kilns and firings.",
        **_back(),
    )
    return form_page(request, page, form, status)


def _tell_password(
    request: StudioRequest, person: "Person", password: str
) -> HttpResponse:
    context = {"person": person, "password": password}
    return render_page(request, "studio/member_password.html", context)


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def member_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a member's role, or end their access."""
    member = member_or_404(request, pk)
    initial = {"role": member.role, "is_active": member.is_active}
    form = MemberForm(posted(request), initial=initial)
    status = OK
    if request.method == "POST":
        now = timezone.now()
        status = attempt(
            form,
            lambda: change_member(
                membership=member, by=request.user, at=now, **form.cleaned_data
            ),
        )
        if status == OK:
            messages.success(request, f"{member.person} is changed.")
            # Somebody who gave up being owner may no longer see the pages around this
            # one.
            return redirect("studio:settings")
    return _member_page(request, member, form, status=status)


def _member_page(
    request: StudioRequest,
    member: "Membership",
    form: MemberForm,
    *,
    status: int = OK,
    **more: str,
) -> HttpResponse:
    context = {"member": member, "form": form, **more}
    return render_page(request, "studio/member_edit.html", context, status=status)


@never_cache
@require_POST
@requires(Can.MANAGE_STUDIO)
def member_password(request: StudioRequest, pk: int) -> HttpResponse:
    """Give a member who forgot theirs a new password, shown only this once."""
    member = member_or_404(request, pk)
    try:
        password = give_new_password(
            membership=member, by=request.user, at=timezone.now()
        )
    except StudioError as refusal:
        initial = {"role": member.role, "is_active": member.is_active}
        form = MemberForm(initial=initial)
        return _member_page(request, member, form, problem=str(refusal), status=REFUSED)
    return _tell_password(request, member.person, password)
