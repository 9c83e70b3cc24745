"""What is done to people in a studio: added, given another role, let back in."""

import secrets
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction

from studio.errors import Refused
from studio.models import Membership, Person, Role, Studio
from studio.services import history
from studio.services.locks import held

# No letters or digits that look alike: it is read from one screen and typed on another.
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
GROUPS = 4
GROUP_LENGTH = 4


def make_password() -> str:
    """Return a password to show once: four groups of four, about 79 bits."""
    return "-".join(
        "".join(secrets.choice(LETTERS) for _ in range(GROUP_LENGTH))
        for _ in range(GROUPS)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Welcome:
    """A membership, and the password for its person; empty if they have one."""

    membership: Membership
    password: str


@transaction.atomic
def add_member(
    *,
    studio: Studio,
    email: str,
    name: str,
    role: str,
    by: Person | None,
    at: datetime,
) -> Welcome:
    """Add a person to the studio; make an account if they have none.

    Somebody who already signs in to another studio keeps their name and password.

    Raises
    ------
    Refused
        When the person belongs to the studio already.
    """
    # Every change of people waits for the studio's row: two owners who step down at the
    # same moment must not both succeed, and nobody is added twice.
    held(Studio.objects).get(pk=studio.pk)
    email = email.strip().lower()
    person, password = _account(email, name)
    if Membership.owned.for_studio(studio).filter(person=person).exists():
        raise Refused(
            f"{email} belongs to this studio already. Find them in the list of people "
            "and change their part there."
        )
    membership = Membership.across_studios.create(
        studio=studio,
        person=person,
        role=Role(role),
        temperature_unit=studio.temperature_unit,
        length_unit=studio.length_unit,
    )
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"Added {person} as {role}",
        subject=f"membership {membership.pk}",
    )
    return Welcome(membership=membership, password=password)


def _account(email: str, name: str) -> tuple[Person, str]:
    """Return the person of an address, or a new one with the password for them."""
    person = Person.objects.filter(email=email).first()
    if person is not None:
        return person, ""
    password = make_password()
    try:
        with transaction.atomic():
            return Person.objects.create_user(email, password, name=name), password
    except IntegrityError:
        # Another studio added the same person meanwhile.
        return Person.objects.get(email=email), ""


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

    Raises
    ------
    Refused
        When the studio would be left without an owner.
    """
    studio = held(Studio.objects).get(pk=membership.studio_id)
    current = Membership.owned.for_studio(studio).get(pk=membership.pk)
    was_owner = current.role == Role.OWNER and current.is_active
    if was_owner and not (role == Role.OWNER and is_active):
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
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"{current.person} {' and '.join(told)}",
        subject=f"membership {current.pk}",
    )


@transaction.atomic
def give_new_password(
    *, membership: Membership, by: Person | None, at: datetime
) -> str:
    """Set and return a new password for somebody who forgot theirs.

    Raises
    ------
    Refused
        When the person also belongs to another studio: its doors are not ours to open.
    """
    person = membership.person
    elsewhere = Membership.across_studios.filter(person=person, is_active=True)
    if elsewhere.exclude(studio=membership.studio).exists() or person.is_staff:
        raise Refused(
            f"{person} also signs in elsewhere, so this studio cannot set their "
            "password. Ask whoever runs the server."
        )
    password = make_password()
    person.set_password(password)
    person.save()
    history.record(
        studio=membership.studio,
        by=by,
        at=at,
        what=f"Gave {person} a new password",
        subject=f"membership {membership.pk}",
    )
    return password


def set_units(
    *, membership: Membership, temperature_unit: str, length_unit: str
) -> None:
    """Choose the units in which one member reads."""
    Membership.across_studios.filter(pk=membership.pk).update(
        temperature_unit=temperature_unit, length_unit=length_unit
    )
