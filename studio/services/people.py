"""What is done to people in a studio: given another role, let back in."""

from datetime import datetime

from django.conf import settings
from django.db import transaction

from studio.errors import Refused
from studio.models import Membership, Person, Role, Studio
from studio.selectors.invitations import unanswered
from studio.services import history
from studio.services.accounts import MAILED_EVERY, mail_password_link, password_link
from studio.services.locks import held
from studio.viewer import count_words


@transaction.atomic
def change_member(
    *,
    membership: Membership,
    role: str,
    is_active: bool,
    by: Person | None,
    at: datetime,
) -> None:
    """Give a member another role, or end or restore their access.

    Whoever stops being an owner takes no way back along: the invitations they made are
    withdrawn, and `accounts.PasswordLinks` made before are void.

    Raises
    ------
    Refused
        When the studio would be left without an owner.
    """
    studio = held(Studio.objects).get(pk=membership.studio_id)
    current = Membership.owned.for_studio(studio).get(pk=membership.pk)
    was_owner = current.role == Role.OWNER and current.is_active
    stops = was_owner and not (role == Role.OWNER and is_active)
    if stops:
        others = Membership.owned.for_studio(studio).filter(
            role=Role.OWNER, is_active=True
        )
        if not others.exclude(pk=current.pk).exists():
            raise Refused(
                f"{current.person} is the only owner. Make somebody else an owner "
                "first, then change this."
            )
    told = []
    if current.role != role:
        told.append(f"is now {role}")
    if current.is_active != is_active:
        told.append("may sign in again" if is_active else "may no longer sign in")
    if not told:
        return
    current.role = Role(role)
    current.is_active = is_active
    current.save()
    what = f"{current.person} {' and '.join(told)}"
    if stops:
        theirs = unanswered(studio).filter(made_by=current.person)
        if withdrawn := theirs.update(withdrawn_at=at):
            what += f", which withdrew {count_words(withdrawn, 'invitation')} of theirs"
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=what,
        subject=f"membership {current.pk}",
    )


@transaction.atomic
def give_password_link(
    *, membership: Membership, by: Person, at: datetime, origin: str
) -> str:
    """Let somebody who forgot their password set another one, by a link.

    Return the link's path for the owner to hand over, or nothing where it is mailed.

    Raises
    ------
    Refused
        When it would be the owner's own, was mailed a moment ago, or may not be handed
        over because the account opens, or ever opened, more than this studio.
    """
    # Held, so that nobody joins another studio between the look and the link.
    person = held(Person.objects).get(pk=membership.person_id)
    if person == by:
        raise Refused("Change your own password under Settings, with the old one.")
    path = ""
    if settings.MAIL_IS_SET:
        if not mail_password_link(email=person.email, origin=origin, at=at):
            raise Refused(
                f"{person} was mailed a link only minutes ago. If it does not arrive, try "
                f"again in {MAILED_EVERY.seconds // 60} minutes."
            )
        told = f"Had a link to set a new password mailed to {person}"
    else:
        elsewhere = Membership.across_studios.filter(person=person)
        elsewhere = elsewhere.exclude(studio=membership.studio)
        if elsewhere.exists() or person.is_staff or person.is_superuser:
            raise Refused(
                f"Only whoever runs the server can make a link for {person}: the "
                "account is not this studio's alone."
            )
        path = password_link(person)
        told = f"Made a link by which {person} sets a new password"
    history.record(
        studio=membership.studio,
        by=by,
        at=at,
        what=told,
        subject=f"membership {membership.pk}",
    )
    return path


def choose_home(*, membership: Membership) -> None:
    """Choose the studio that a person finds open when they sign in."""
    Person.objects.filter(pk=membership.person_id).update(home=membership.studio_id)


def set_units(
    *, membership: Membership, temperature_unit: str, length_unit: str
) -> None:
    """Choose the units in which one member reads."""
    Membership.across_studios.filter(pk=membership.pk).update(
        temperature_unit=temperature_unit, length_unit=length_unit
    )
