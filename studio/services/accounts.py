"""A person's own account: the link by which they set a password."""

from datetime import datetime, timedelta

from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from studio.jobs import enqueue, last_with_key
from studio.models import Membership, Person
from studio.services.letters import send_letter

PASSWORD_JOB = "studio.mail_password_link"
# How often anybody may have a person mailed.
MAILED_EVERY = timedelta(minutes=10)


class PasswordLinks(PasswordResetTokenGenerator):
    """Links to set a password, void once their person has joined another studio.

    The owner of somebody's only studio may have made the link; it must not open the
    next one as well.
    """

    def _make_hash_value(self, user: Person, timestamp: int) -> str:
        joined = Membership.across_studios.filter(person_id=user.pk).order_by("pk")
        value = super()._make_hash_value(user, timestamp)
        return f"{value}{list(joined.values_list('pk', flat=True))}"


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
def mail_password_link(*, email: str, origin: str, at: datetime) -> None:
    """Have a new link mailed to whoever signs in with an address, if anybody does.

    `origin` is the scheme and host under which the person reaches this server.
    """
    person = Person.objects.filter(email=email.strip().lower(), is_active=True).first()
    if person is None:
        return
    membership = Membership.across_studios.filter(person=person).order_by("pk").first()
    if membership is None:
        return
    key = f"password {person.pk}"
    last = last_with_key(membership.studio, key)
    if last is None or last.created_at < at - MAILED_EVERY:
        enqueue(
            studio=membership.studio,
            name=PASSWORD_JOB,
            key=key,
            person_id=person.pk,
            origin=origin,
        )


def send_password_link(*, person_id: int, origin: str) -> None:
    """Mail a person the link by which they set a new password."""
    person = Person.objects.filter(pk=person_id, is_active=True).first()
    if person is not None:
        context = {"person": person, "url": origin + password_link(person)}
        subject = "A new password for Slowcool"
        send_letter("password_link", to=person.email, subject=subject, context=context)
