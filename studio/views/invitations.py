"""A studio's invitations: made, given another link, withdrawn. For owners."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from studio.answers import FormPage, form_page
from studio.errors import StudioError
from studio.forms.invitations import InviteForm
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    origin_for_mail,
    origin_of,
    posted,
    render_page,
    requires,
)
from studio.roles import Can
from studio.selectors.invitations import unanswered
from studio.services.invitations import Invited, invite, make_new_link, withdraw

if TYPE_CHECKING:
    from studio.models import Invitation


@never_cache
@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def invitation_new(request: StudioRequest) -> HttpResponse:
    """Invite somebody; the answer is the same whoever has an account already."""
    form = InviteForm(posted(request))
    status = OK
    if request.method == "POST":
        made: list[Invited] = []
        now = timezone.now()
        status = attempt(
            form,
            lambda: made.append(
                invite(
                    studio=request.studio,
                    by=request.user,
                    at=now,
                    origin=origin_for_mail(request),
                    **form.cleaned_data,
                )
            ),
        )
        if status == OK:
            return _give(request, made[0])
    page = FormPage(
        title="Invite somebody",
        submit="Invite",
        back_url=reverse("studio:settings"),
        back_label="Settings",
        intro="They get a link to accept or decline. Owners and makers see money. Makers "
        "plan pieces. Helpers record work and see no money; technicians look after kilns "
        "and firings.",
    )
    return form_page(request, page, form, status)


@never_cache
@require_POST
@requires(Can.MANAGE_STUDIO)
def invitation_renew(request: StudioRequest, pk: int) -> HttpResponse:
    """Give an invitation a new link, for another week."""
    made: list[Invited] = []
    problem = _tried(
        lambda: made.append(
            make_new_link(
                invitation=_found(request, pk),
                by=request.user,
                at=timezone.now(),
                origin=origin_for_mail(request),
            )
        )
    )
    if problem:
        messages.error(request, problem)
        return redirect("studio:settings")
    return _give(request, made[0])


@require_POST
@requires(Can.MANAGE_STUDIO)
def invitation_withdraw(request: StudioRequest, pk: int) -> HttpResponse:
    """Withdraw an invitation."""
    invitation = _found(request, pk)
    problem = _tried(
        lambda: withdraw(invitation=invitation, by=request.user, at=timezone.now())
    )
    if problem:
        messages.error(request, problem)
    else:
        messages.success(request, f"The invitation of {invitation.email} is withdrawn.")
    return redirect("studio:settings")


def _found(request: StudioRequest, pk: int) -> "Invitation":
    return get_object_or_404(unanswered(request.studio), pk=pk)


def _tried(act: Callable[[], object]) -> str:
    """Act; return why it was refused, if it was."""
    try:
        act()
    except StudioError as problem:
        return problem.message
    return ""


def _give(request: StudioRequest, invited: Invited) -> HttpResponse:
    """Show the link to hand over, this once, or say that it is mailed."""
    email = invited.invitation.email
    if not invited.token:
        messages.success(request, f"The invitation to {email} is on its way.")
        return redirect("studio:settings")
    path = reverse("studio:invitation_link", args=[invited.token])
    context = {
        "title": "Invitation",
        "facts": [email],
        "told": "Send them this link, or hand it over. It is shown only now, works once, "
        "and expires in a week.",
        "url": origin_of(request) + path,
        "back_url": reverse("studio:settings"),
        "back_label": "Settings",
    }
    return render_page(request, "studio/hand_over.html", context)
