"""One's own studios: joined by invitation, and the one that opens at sign-in.

The link of an invitation is opened by mail scanners and previews too, so opening it
changes nothing; its token is left behind in the address that only redirects.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from studio.errors import StudioError
from studio.forms.invitations import JoinForm
from studio.http import (
    OK,
    OPEN_STUDIO,
    REFUSED,
    StudioRequest,
    VisitorRequest,
    attempt,
    needs_second_step,
    own_membership_or_404,
    public,
    requires,
)
from studio.roles import Can
from studio.selectors import invitations
from studio.services.invitations import accept, accept_as_new, decline
from studio.services.people import choose_home
from studio.views.access import PASSWORDS, remember_device

if TYPE_CHECKING:
    from studio.models import Invitation, Membership

LINK = "invitation"
"""Session key: the hash of the token of the link that was opened last."""

GONE = 410
OVER = "This invitation was answered or withdrawn, or its link is an older one."


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """An invitation that the visitor may answer."""

    invitation: "Invitation"
    is_by_link: bool


@never_cache
@public
@require_safe
def invitation_link(request: VisitorRequest, token: str) -> HttpResponse:
    """Remember which link was opened, and go on to a page without it in its address."""
    digest = invitations.token_hash(token)
    if invitations.behind_link(digest, at=timezone.now()) is None:
        request.session.pop(LINK, None)
    else:
        request.session[LINK] = digest
    response = redirect("studio:invitation")
    response["Referrer-Policy"] = "no-referrer"
    return response


@never_cache
@public
@require_safe
def invitation(request: VisitorRequest) -> HttpResponse:
    """Show the invitation behind the link, and those that wait for whoever is signed in."""
    return _page(request)


@never_cache
@public
@require_POST
def invitation_join(request: VisitorRequest) -> HttpResponse:
    """Make an account for the invitation's address, sign in and join."""
    linked = _linked(request)
    if request.user.is_authenticated or linked is None:
        return _page(request)
    form = JoinForm(linked, request.POST)
    joined: list[Membership] = []
    now = timezone.now()
    status = attempt(
        form,
        lambda: joined.append(
            accept_as_new(
                invitation=linked,
                name=form.cleaned_data["name"],
                password=form.cleaned_data["new_password1"],
                at=now,
            )
        ),
    )
    if status != OK:
        return _page(request, form=form, status=status)
    person = joined[0].person
    login(request, person, backend=PASSWORDS)
    response = _enter(request, joined[0])
    remember_device(request, response, person)
    return response


@never_cache
@public
@require_POST
def invitation_accept(request: VisitorRequest) -> HttpResponse:
    """Join a studio with the account that is signed in."""
    offer = _chosen(request)
    if offer is None or not request.user.is_authenticated:
        return _page(request, problem=OVER, status=REFUSED)
    if request.membership and needs_second_step(cast(StudioRequest, request)):
        return redirect("studio:second_step")
    try:
        joined = accept(
            invitation=offer.invitation,
            person=request.user,
            is_by_link=offer.is_by_link,
            at=timezone.now(),
        )
    except StudioError as problem:
        return _page(request, problem=problem.message, status=REFUSED)
    return _enter(request, joined)


@never_cache
@public
@require_POST
def invitation_decline(request: VisitorRequest) -> HttpResponse:
    """Decline an invitation, with an account or without."""
    offer = _chosen(request)
    if offer is None:
        return _page(request, problem=OVER, status=REFUSED)
    try:
        decline(invitation=offer.invitation, at=timezone.now())
    except StudioError as problem:
        return _page(request, problem=problem.message, status=REFUSED)
    messages.success(request, f"You declined to join {offer.invitation.studio}.")
    return redirect("studio:today" if request.membership else "studio:sign_in")


@require_POST
@requires(Can.SEE_WORK)
def studio_home(request: StudioRequest) -> HttpResponse:
    """Choose the studio that opens at sign-in."""
    membership = own_membership_or_404(request)
    choose_home(membership=membership)
    messages.success(request, f"{membership.studio} opens when you sign in.")
    return redirect("studio:settings")


def _linked(request: VisitorRequest) -> "Invitation | None":
    digest = request.session.get(LINK)
    return invitations.behind_link(digest, at=timezone.now()) if digest else None


def _offers(request: VisitorRequest, linked: "Invitation | None") -> list[Offer]:
    """Return what the visitor may answer: whoever has the link may at least decline."""
    by_link = [Offer(invitation=linked, is_by_link=True)] if linked else []
    if not request.user.is_authenticated:
        return by_link
    waiting = invitations.waiting_for(request.user, at=timezone.now())
    return by_link + [
        Offer(invitation=one, is_by_link=False) for one in waiting if one != linked
    ]


def _chosen(request: VisitorRequest) -> Offer | None:
    asked = request.POST.get("invitation", "")
    offers = _offers(request, _linked(request))
    return next((one for one in offers if str(one.invitation.pk) == asked), None)


def _page(
    request: VisitorRequest,
    *,
    form: JoinForm | None = None,
    problem: str = "",
    status: int = OK,
) -> HttpResponse:
    linked = _linked(request)
    offers = _offers(request, linked)
    if not offers and status == OK:
        status = GONE
    context = {
        "offers": offers,
        "form": form or (JoinForm(linked) if linked else None),
        "problem": problem,
        "sign_in_url": f"{reverse('studio:sign_in')}?next={reverse('studio:invitation')}",
    }
    return render(request, "studio/invitation.html", context, status=status)


def _enter(request: VisitorRequest, joined: "Membership") -> HttpResponse:
    request.session.pop(LINK, None)
    request.session[OPEN_STUDIO] = joined.studio_id
    messages.success(request, f"You belong to {joined.studio} now.")
    return redirect("studio:today")
