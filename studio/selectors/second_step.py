"""Reads of the second step of signing in: a code from an app, or a recovery code."""

from base64 import b32encode
from dataclasses import dataclass
from datetime import datetime, timedelta

import segno
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.models import Person

# The secret is shown for so long; then setting up begins again, with the password.
SETTING_UP_FOR = timedelta(minutes=15)


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondStep:
    """Whether a person's second step is on, and how many recovery codes are left."""

    is_on: bool
    codes_left: int


def second_step_of(person: Person) -> SecondStep:
    """Return how things stand with a person's second step."""
    return SecondStep(
        is_on=is_on(person),
        codes_left=StaticToken.objects.filter(device__user=person).count(),
    )


def is_on(person: Person) -> bool:
    """Return whether signing in asks the person for a code."""
    found: bool = TOTPDevice.objects.filter(user=person, confirmed=True).exists()
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Secret:
    """A secret to give to an app: as a picture, as a link, and to type."""

    svg: str
    url: str
    text: str


def secret_being_set_up(person: Person, begun: int, *, now: datetime) -> Secret | None:
    """Return a secret that no code has confirmed yet; none once it is too old."""
    device = TOTPDevice.objects.filter(
        user=person, pk=begun, confirmed=False, created_at__gt=now - SETTING_UP_FOR
    ).first()
    if device is None:
        return None
    letters = b32encode(device.bin_key).decode("ascii")
    return Secret(
        # Black on white in either theme: cameras read nothing else as well.
        svg=segno.make(device.config_url, micro=False).svg_inline(
            scale=5, border=4, dark="#000", light="#fff", omitsize=True
        ),
        url=device.config_url,
        text=" ".join(letters[at : at + 4] for at in range(0, len(letters), 4)),
    )
