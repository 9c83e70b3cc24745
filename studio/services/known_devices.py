"""Devices on which somebody has signed in before: a cookie names them, nothing is stored.

Strangers can use up the failures that one name may have. They must not keep its person
out for good, so a device that was let in once has failures of its own.
"""

import secrets

from django.core import signing
from django.utils.crypto import constant_time_compare, salted_hmac

from studio.models import Person

SALT = "studio.known-device"
# A tablet at the bench is used by several people; the last ones are kept.
MOST_PEOPLE = 8
KEPT_SECONDS = 365 * 24 * 60 * 60

Known = dict[str, list[str]]


def device_of(cookie: str, person: Person) -> str:
    """Return the device's name for this person; empty where they never signed in.

    Nor does it count any more once their password has changed.
    """
    name, proof = _read(cookie).get(str(person.pk), ["", ""])
    return name if name and constant_time_compare(proof, _proof(person)) else ""


def with_person(cookie: str, person: Person) -> str:
    """Return the cookie's next value, where the person is known by a new name."""
    known = _read(cookie)
    known.pop(str(person.pk), None)
    known[str(person.pk)] = [secrets.token_urlsafe(9), _proof(person)]
    return signing.dumps(dict(list(known.items())[-MOST_PEOPLE:]), salt=SALT)


def _read(cookie: str) -> Known:
    try:
        known: Known = signing.loads(cookie, salt=SALT, max_age=KEPT_SECONDS)
    except signing.BadSignature:
        return {}
    return known


def _proof(person: Person) -> str:
    return salted_hmac(SALT, person.password, algorithm="sha256").hexdigest()[:32]
