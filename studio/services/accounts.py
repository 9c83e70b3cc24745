"""A person's own account: the link by which they set a password, and the way back in."""

from datetime import datetime

from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from studio.errors import Refused
from studio.models import Membership, Person
from studio.services import history
from studio.services.devices import end_devices
from studio.services.second_step import take_new_tries, turn_off
from studio.services.throttle import unlock


def password_link(person: Person) -> str:
    """Return the path, without a host, at which the person sets a new password.

    It works once, for a day, and no longer once they have signed in. Whoever has it can
    sign in as this person: mail it to them, or hand it over in person.
    """
    return reverse(
        "studio:password_set",
        kwargs={
            "uidb64": urlsafe_base64_encode(force_bytes(person.pk)),
            "token": default_token_generator.make_token(person),
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
