"""Invitations into a studio: made, withdrawn, and answered by their person.

An owner learns nothing about the person behind an address: no function here looks for an
account before the invitation is accepted. Whoever opens its link to join as somebody new
is told if there is one. Where mail is set that is the person alone; else the owner, who
holds the link, can do so too.
"""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import IntegrityError, transaction
from django.urls import reverse

from studio.errors import Refused
from studio.jobs import Finish, enqueue, on_forget
from studio.models import Invitation, Membership, Person, Role, Studio
from studio.selectors.invitations import token_hash, unanswered
from studio.services import history
from studio.services.accounts import MAILED_EVERY
from studio.services.letters import send_letter
from studio.services.locks import held

INVITATION_JOB = "studio.mail_invitation"
LIFETIME = timedelta(days=7)
KEPT_FOR = timedelta(days=30)
# Of the mail that a studio can have sent to strangers.
MOST_A_DAY = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Invited:
    """An invitation, and the token of its link; empty where the link is mailed."""

    invitation: Invitation
    token: str


@transaction.atomic
def invite(
    *,
    studio: Studio,
    email: str,
    role: str,
    by: Person | None,
    at: datetime,
    origin: str,
) -> Invited:
    """Invite an address into the studio, or invite it again with another link.

    `origin` is the scheme and host under which the person reaches this server.

    Raises
    ------
    Refused
        When the address is a member's or was mailed a moment ago, or too many were
        invited today.
    """
    # Every change of people waits for the studio's row.
    held(Studio.objects).get(pk=studio.pk)
    email = email.strip().lower()
    members = Membership.owned.for_studio(studio)
    if members.filter(person__email=email).exists():
        raise Refused(
            f"{email} belongs to this studio already. Find them in the list of people "
            "and change their part there."
        )
    invitation = unanswered(studio).filter(email=email).first()
    if invitation is None:
        invitation = Invitation(studio=studio, email=email)
    invitation.role = Role(role)
    invited = _with_new_link(invitation, by=by, at=at, origin=origin)
    _note(invitation, by=by, at=at, what=f"Invited somebody as {role}")
    return invited


@transaction.atomic
def make_new_link(
    *, invitation: Invitation, by: Person | None, at: datetime, origin: str
) -> Invited:
    """Make another link for an invitation; the one before no longer works.

    Raises
    ------
    Refused
        When it was answered meanwhile or mailed a moment ago, or too many were invited
        today.
    """
    current = _locked(invitation)
    invited = _with_new_link(current, by=by, at=at, origin=origin)
    _note(current, by=by, at=at, what="Made a new link for an invitation")
    return invited


def _with_new_link(
    invitation: Invitation, *, by: Person | None, at: datetime, origin: str
) -> Invited:
    studio = invitation.studio
    today = Invitation.owned.for_studio(studio).filter(made_at__gt=at - timedelta(1))
    if today.exclude(pk=invitation.pk).count() >= MOST_A_DAY:
        raise Refused(
            f"This studio has invited {MOST_A_DAY} people within a day. Invite more "
            "tomorrow."
        )
    mailed_at = invitation.mailed_at
    if settings.MAIL_IS_SET and mailed_at and mailed_at > at - MAILED_EVERY:
        raise Refused(
            f"{invitation.email} was mailed a link only minutes ago. Wait "
            f"{MAILED_EVERY.seconds // 60} minutes before you send another."
        )
    token = secrets.token_urlsafe(32)
    invitation.token_sha256 = token_hash(token)
    invitation.made_by, invitation.made_at = by, at
    invitation.expires_at, invitation.mailed_at = at + LIFETIME, None
    invitation.save()
    if not settings.MAIL_IS_SET:
        return Invited(invitation=invitation, token=token)
    # The worker makes the token that counts: what is mailed is stored nowhere.
    enqueue(
        studio=studio,
        name=INVITATION_JOB,
        key=f"invitation {invitation.pk}",
        invitation_id=invitation.pk,
        origin=origin,
    )
    return Invited(invitation=invitation, token="")


def mail_link(*, invitation: Invitation, origin: str, at: datetime) -> Finish:
    """Mail an invitation's link; return what makes this link the one that works."""
    token = secrets.token_urlsafe(32)
    context = {
        "invitation": invitation,
        "url": origin + reverse("studio:invitation_link", args=[token]),
    }
    subject = f"Join {invitation.studio} on Slowcool"
    send_letter("invitation", to=invitation.email, subject=subject, context=context)

    def finish() -> None:
        unanswered(invitation.studio).filter(pk=invitation.pk).update(
            token_sha256=token_hash(token), mailed_at=at
        )

    return finish


@transaction.atomic
def withdraw(*, invitation: Invitation, by: Person | None, at: datetime) -> None:
    """Withdraw an invitation: its link no longer works.

    Raises
    ------
    Refused
        When it was answered meanwhile.
    """
    current = _locked(invitation)
    current.withdrawn_at = at
    current.save(update_fields=["withdrawn_at"])
    _note(current, by=by, at=at, what="Withdrew an invitation")


@transaction.atomic
def accept(
    *, invitation: Invitation, person: Person, is_by_link: bool, at: datetime
) -> Membership:
    """Let a person into the studio that invited their address.

    Raises
    ------
    Refused
        When it no longer stands, is for another address, or comes without a link to an
        address of which nobody knows whose it is.
    """
    current = _standing(invitation, at)
    person = held(Person.objects).get(pk=person.pk)
    if person.email != current.email:
        raise Refused(f"This invitation is for {current.email}. Sign in with that.")
    if not is_by_link and person.email_confirmed_at is None:
        raise Refused("Open the link of the invitation and accept there.")
    return _join(current, person, is_by_link=is_by_link, at=at)


@transaction.atomic
def accept_as_new(
    *, invitation: Invitation, name: str, password: str, at: datetime
) -> Membership:
    """Make an account for the invitation's address, by its link, and let it in.

    Raises
    ------
    Refused
        When it no longer stands, or the address has an account.
    """
    current = _standing(invitation, at)
    try:
        with transaction.atomic():
            person = Person.objects.create_user(current.email, password, name=name)
    except IntegrityError as problem:
        raise Refused(
            f"{current.email} has an account already. Sign in with it to accept."
        ) from problem
    return _join(current, person, is_by_link=True, at=at)


@transaction.atomic
def decline(*, invitation: Invitation, at: datetime) -> None:
    """Decline an invitation. Who it was for stays unsaid: nobody has joined.

    Raises
    ------
    Refused
        When it no longer stands.
    """
    current = _standing(invitation, at)
    current.declined_at = at
    current.save(update_fields=["declined_at"])
    _note(current, by=None, at=at, what="An invitation was declined")


def _join(
    invitation: Invitation, person: Person, *, is_by_link: bool, at: datetime
) -> Membership:
    studio = invitation.studio
    if Membership.owned.for_studio(studio).filter(person=person).exists():
        raise Refused("You belong to this studio already.")
    if is_by_link and invitation.mailed_at and person.email_confirmed_at is None:
        # Nobody else reads what is mailed there.
        person.email_confirmed_at = at
        person.save(update_fields=["email_confirmed_at"])
    invitation.accepted_at = at
    invitation.save(update_fields=["accepted_at"])
    membership: Membership = Membership.across_studios.create(
        studio=studio,
        person=person,
        role=invitation.role,
        temperature_unit=studio.temperature_unit,
        length_unit=studio.length_unit,
    )
    history.record(
        studio=studio,
        by=person,
        at=at,
        what=f"{person} accepted the invitation and is now {invitation.role}",
        subject=f"membership {membership.pk}",
    )
    return membership


def _locked(invitation: Invitation) -> Invitation:
    """Lock the studio's people and return the invitation as it is now, unanswered."""
    studio = held(Studio.objects).get(pk=invitation.studio_id)
    current = Invitation.owned.for_studio(studio).filter(pk=invitation.pk)
    found: Invitation | None = current.select_related("studio").first()
    if found is None or found.withdrawn_at is not None:
        raise Refused("This invitation was withdrawn.")
    if found.accepted_at is not None or found.declined_at is not None:
        raise Refused("This invitation was answered already.")
    return found


def _standing(invitation: Invitation, at: datetime) -> Invitation:
    """Return the same if it can still be accepted by the link that was read."""
    current = _locked(invitation)
    if current.expires_at <= at or current.token_sha256 != invitation.token_sha256:
        raise Refused("This link no longer works. Ask the studio for another.")
    return current


def _note(
    invitation: Invitation, *, by: Person | None, at: datetime, what: str
) -> None:
    # Everybody in the studio reads the history; addresses are for owners.
    subject = f"invitation {invitation.pk}"
    history.record(studio=invitation.studio, by=by, at=at, what=what, subject=subject)


@on_forget
def forget_invitations(now: datetime) -> int:
    """Delete what was answered or expired a month ago: addresses of people not here."""
    old = Invitation.across_studios.filter(expires_at__lt=now - KEPT_FOR)
    return old.delete()[0]
