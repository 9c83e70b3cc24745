"""A person's own account: the link by which they set a password."""

from django.contrib.auth.tokens import default_token_generator
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from studio.models import Person


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
