"""A person's own account: the link by which they set a password, and the way back in."""

from datetime import datetime, timedelta

from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from studio.errors import Refused
from studio.jobs import enqueue, last_with_key
from studio.models import Membership, Person, Role
from studio.services import history
from studio.services.devices import end_devices
from studio.services.letters import send_letter
from studio.services.second_step import take_new_tries, turn_off
from studio.services.throttle import unlock

PASSWORD_JOB = "studio.mail_password_link"
# How often anybody may have a person mailed.
MAILED_EVERY = timedelta(minutes=10)


class PasswordLinks(PasswordResetTokenGenerator):
    """Links to set a password, void once their person's studios or owners are others.

    The owner of somebody's only studio may have made the link: it must not open the
    next one as well, nor this one to an owner whose access was ended.
    """

    def _make_hash_value(self, user: Person, timestamp: int) -> str:
        members = Membership.across_studios.order_by("pk").values_list("pk", flat=True)
        joined = members.filter(person_id=user.pk)
        owners = members.filter(
            studio__in=joined.values("studio"), role=Role.OWNER, is_active=True
        )
        value = super()._make_hash_value(user, timestamp)
        return f"{value}{[*joined]}{[*owners]}"


password_links = PasswordLinks()


def password_link(person: Person) -> str:
    """Return the path, without a host, at which the person sets a new password.

    It works once, for a day, and no longer once they have signed in. Whoever has it can
    sign in as this person: mail it to them, or hand it over in person.
    """
    return reverse(
        "studio:password_set",
        kwargs={
            "uidb64": urlsafe_base64_encode(force_bytes(person.pk)),
            "token": password_links.make_token(person),
        },
    )


@transaction.atomic
def let_back_in(*, email: str, without_second_step: bool, at: datetime) -> Person:
    """Prepare for a person to set a new password, and return them.

    It is for whoever runs the server: their studios' histories tell of it. Without the
    second step they are signed out everywhere, as whoever found the phone is.

    Raises
    ------
    Refused
        When nobody signs in with this address.
    """
    email = email.strip().lower()
    person = Person.objects.filter(email=email, is_active=True).first()
    if person is None:
        raise Refused(f"Nobody signs in as {email}. Check the address.")
    unlock(person)
    take_new_tries(person=person)
    what = f"Whoever runs the server made {person} a link for a new password"
    if without_second_step:
        turn_off(person=person)
        end_devices(person=person)
        what += " and turned off their second step"
    for membership in Membership.across_studios.filter(person=person, is_active=True):
        history.record(studio=membership.studio, by=None, at=at, what=what)
    return person


@transaction.atomic
def mail_password_link(*, email: str, origin: str, at: datetime) -> bool:
    """Have a new link mailed to whoever signs in with an address, if anybody does.

    Return whether one is on its way; visitors are not told. `origin` is the scheme and host under which the person reaches this server.
    """
    person = Person.objects.filter(email=email.strip().lower(), is_active=True).first()
    if person is None:
        return False
    membership = Membership.across_studios.filter(person=person).order_by("pk").first()
    if membership is None:
        return False
    key = f"password {person.pk}"
    last = last_with_key(membership.studio, key)
    if last is not None and last.created_at >= at - MAILED_EVERY:
        return False
    enqueue(
        studio=membership.studio,
        name=PASSWORD_JOB,
        key=key,
        person_id=person.pk,
        origin=origin,
    )
    return True


def send_password_link(*, person_id: int, origin: str) -> None:
    """Mail a person the link by which they set a new password."""
    person = Person.objects.filter(pk=person_id, is_active=True).first()
    if person is not None:
        context = {"person": person, "url": origin + password_link(person)}
        subject = "A new password for Slowcool"
        send_letter("password_link", to=person.email, subject=subject, context=context)
