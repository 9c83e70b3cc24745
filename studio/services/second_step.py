"""The second step of signing in: set up, checked, turned off.

The codes are RFC 6238's, kept and checked by django-otp; each works once.
"""

import math
import re
import secrets
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils.crypto import salted_hmac
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.errors import Refused
from studio.models import Person
from studio.selectors.second_step import is_on
from studio.services.locks import held
from studio.viewer import count_words

DIGITS = 6
CODES = 10
# No letters or digits that look alike: codes are read from paper and typed.
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
CODE_LENGTH = 10


@transaction.atomic
def begin(*, person: Person) -> int:
    """Make a secret for an app and return its number.

    It counts once a code has confirmed it.

    Raises
    ------
    Refused
        When the second step is on already.
    """
    held(Person.objects).get(pk=person.pk)
    if is_on(person):
        raise Refused("The second step is on. Turn it off before setting up another.")
    TOTPDevice.objects.filter(user=person).delete()
    number: int = TOTPDevice.objects.create(user=person, name="app", confirmed=False).pk
    return number


def confirm(*, person: Person, begun: int, code: str, at: datetime) -> list[str]:
    """Turn the second step on with the first code of the app that was given a secret.

    Return the recovery codes.

    Raises
    ------
    Refused
        When the code is wrong, or nothing is being set up.
    """
    with transaction.atomic():
        held(Person.objects).get(pk=person.pk)
        rows = held(TOTPDevice.objects)
        device = rows.filter(user=person, pk=begun, confirmed=False).first()
        if device is None:
            raise Refused("Nothing is being set up. Start again.")
        problem = _problem(device, _digits(_plain(code)), at)
        if not problem:
            device.confirmed = True
            device.save(update_fields=["confirmed"])
            return make_codes(person=person)
    # Outside: the failure stays counted.
    raise Refused(problem)


def check(*, person: Person, code: str, at: datetime) -> None:
    """Use up a code of the app, or a recovery code.

    Raises
    ------
    Refused
        When it is wrong or used, or too many were wrong before it.
    """
    plain = _plain(code)
    # A recovery code is longer and hardly ever all digits.
    is_from_app = len(plain) < CODE_LENGTH and plain.isdigit()
    with transaction.atomic():
        # Held: of two who send the same code at once, the second finds it used.
        rows = held((TOTPDevice if is_from_app else StaticDevice).objects)
        device = rows.filter(user=person, confirmed=True).first()
        problem = _problem(
            device, _digits(plain) if is_from_app else _digest(plain), at
        )
    if problem:
        raise Refused(problem)


@transaction.atomic
def make_codes(*, person: Person) -> list[str]:
    """Return ten recovery codes, to be shown once; earlier ones no longer work."""
    StaticDevice.objects.filter(user=person).delete()
    device = StaticDevice.objects.create(user=person, name="recovery codes")
    codes = [
        "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
        for _ in range(CODES)
    ]
    StaticToken.objects.bulk_create(
        StaticToken(device=device, token=_digest(code)) for code in codes
    )
    half = CODE_LENGTH // 2
    return [f"{code[:half]}-{code[half:]}" for code in codes]


@transaction.atomic
def turn_off(*, person: Person) -> None:
    """Forget the secret and the recovery codes."""
    TOTPDevice.objects.filter(user=person).delete()
    StaticDevice.objects.filter(user=person).delete()


def take_new_tries(*, person: Person) -> None:
    """Let the person try codes at once, however many were wrong before."""
    for model in (TOTPDevice, StaticDevice):
        model.objects.filter(user=person).update(
            throttling_failure_timestamp=None, throttling_failure_count=0
        )


def _problem(device: Any, token: str, at: datetime) -> str:
    if device is None:
        return "That code is wrong. Type the six digits that the app shows now."
    allowed, why = device.verify_is_allowed()
    if not allowed:
        return (
            f"Too many codes were wrong. Wait {_wait(why['locked_until'] - at)}, or set "
            "a new password by a link: then the next code is tried at once."
        )
    if device.verify_token(token):
        return ""
    if isinstance(device, StaticDevice):
        return "That recovery code is wrong, or it was used already. Try another."
    return "That code is wrong, or it was used already. Type the next one."


def _wait(left: timedelta) -> str:
    seconds = max(1, math.ceil(left.total_seconds()))
    for unit, length in (("day", 86_400), ("hour", 3600), ("minute", 60)):
        if seconds >= 2 * length:
            return f"{math.ceil(seconds / length)} {unit}s"
    return count_words(seconds, "second")


def _plain(code: str) -> str:
    return re.sub(r"[\s-]", "", code).lower()


def _digits(plain: str) -> str:
    """Return a code of the app, or nothing: it would take 42 for 000042."""
    is_whole = len(plain) == DIGITS and plain.isascii() and plain.isdigit()
    return plain if is_whole else ""


def _digest(code: str) -> str:
    """Return a recovery code as it is stored: no use to whoever reads a backup."""
    keyed = salted_hmac("studio.recovery-code", code, algorithm="sha256")
    longest = StaticToken._meta.get_field("token").max_length
    return keyed.hexdigest()[:longest]
