"""Reads of loggers, and the token that each one sends with its readings."""

from firing.models import KilnLogger
from studio.keyed_tokens import nonce_in, token_with
from studio.models import Kiln, Studio
from studio.tenancy import StudioQuerySet
from studio.units import format_duration

KEY_SALT = "firing.kiln logger"


def loggers(studio: Studio) -> StudioQuerySet[KilnLogger]:
    """Return the studio's loggers."""
    return KilnLogger.owned.for_studio(studio).select_related("kiln", "studio")


def loggers_of(kiln: Kiln) -> StudioQuerySet[KilnLogger]:
    """Return the loggers that may send for a kiln, newest first."""
    return loggers(kiln.studio).filter(kiln=kiln, revoked_at__isnull=True)


def token_of(logger: KilnLogger) -> str:
    """Return the token of a logger."""
    return token_with(logger.nonce, salt=KEY_SALT)


def find_logger(token: str) -> KilnLogger | None:
    """Return the logger with a valid token, or none."""
    nonce = nonce_in(token, salt=KEY_SALT)
    if nonce is None:
        return None
    found: KilnLogger | None = (
        KilnLogger.across_studios.select_related("kiln__studio", "studio")
        .filter(nonce=nonce, revoked_at__isnull=True)
        .first()
    )
    return found


def clock_words(logger: KilnLogger) -> str:
    """Say how wrong a logger's clock is; nothing where it is right or never told."""
    off_s = logger.clock_off_s
    if not off_s:
        return ""
    side = "behind" if off_s > 0 else "ahead"
    return f"its clock is {format_duration(abs(off_s))} {side}, which is put right"
