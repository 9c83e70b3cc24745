"""Reads of loggers, and the token that each one sends with its readings."""

import base64

from django.utils.crypto import constant_time_compare, salted_hmac

from firing.models import KilnLogger
from studio.models import Kiln, Studio
from studio.tenancy import StudioQuerySet

KEY_SALT = "firing.kiln logger"
NONCE_LETTERS = DIGEST_LETTERS = 32


def loggers(studio: Studio) -> StudioQuerySet[KilnLogger]:
    """Return the studio's loggers."""
    return KilnLogger.owned.for_studio(studio).select_related("kiln", "studio")


def loggers_of(kiln: Kiln) -> StudioQuerySet[KilnLogger]:
    """Return the loggers that may send for a kiln, newest first."""
    return loggers(kiln.studio).filter(kiln=kiln, revoked_at__isnull=True)


def token_of(logger: KilnLogger) -> str:
    """Return the token of a logger."""
    return f"{logger.nonce}{_digest(logger.nonce)}"


def find_logger(token: str) -> KilnLogger | None:
    """Return the logger with a valid token, or none."""
    nonce, digest = token[:NONCE_LETTERS], token[NONCE_LETTERS:]
    if not token.isascii() or not constant_time_compare(digest, _digest(nonce)):
        return None
    found: KilnLogger | None = (
        KilnLogger.across_studios.select_related("kiln__studio", "studio")
        .filter(nonce=nonce, revoked_at__isnull=True)
        .first()
    )
    return found


def _digest(nonce: str) -> str:
    mac = salted_hmac(KEY_SALT, nonce, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(mac).decode("ascii")[:DIGEST_LETTERS]
