"""Writes into the log who came in, who was kept out, and who asked for too much.

People are named by number: a name typed wrongly may be a password.
"""

import logging
from typing import Any

from django.contrib.auth.signals import (
    user_logged_in,
    user_logged_out,
    user_login_failed,
)
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils.encoding import escape_uri_path

from studio.http import client_address
from studio.models import Person

log = logging.getLogger(__name__)


@receiver(user_logged_in)
def came_in(*, request: HttpRequest, user: Person, **_: object) -> None:
    """Write down who signed in, and from where."""
    log.info("Person %s signed in from %s", user.pk, client_address(request))


@receiver(user_logged_out)
def went_out(*, request: HttpRequest, user: Person | None, **_: object) -> None:
    """Write down who signed out; a session that was over has nobody."""
    if user is not None:
        log.info("Person %s signed out from %s", user.pk, client_address(request))


@receiver(user_login_failed)
def kept_out(
    *, credentials: dict[str, Any], request: HttpRequest | None = None, **_: object
) -> None:
    """Write down whose account somebody failed to open, with password or code."""
    if request is None:
        return
    name = str(credentials.get("username", "")).strip().lower()
    person = Person.objects.filter(email=name).first()
    whose = f"person {person.pk}" if person else "a name that nobody has"
    log.warning("Not let in as %s from %s", whose, client_address(request))


def refused(request: HttpRequest, why: str) -> None:
    """Write down a request that its sender had no right to, or that was forged."""
    user = getattr(request, "user", None)
    who = f"Person {user.pk}" if user is not None and user.pk else "Nobody signed in"
    path, address = escape_uri_path(request.path), client_address(request)
    log.warning("%s at %s: %s %s: %s", who, address, request.method, path, why)
