"""How long a recorded fact is undone with one tap, and when a reason is needed.

Pure. Every fact that people record can be put right by those who may record it: soon
with one tap, later with a reason. The history keeps both lines.
"""

from datetime import datetime, timedelta

from studio.errors import Refused

ONE_TAP = timedelta(minutes=30)


def needs_reason(recorded_at: datetime, now: datetime) -> bool:
    """Return whether putting a fact right takes a reason by now."""
    return now - recorded_at > ONE_TAP


def checked_reason(reason: str, *, recorded_at: datetime, now: datetime) -> str:
    """Return the reason without blanks around it; it may be empty soon after.

    Raises
    ------
    Refused
        When it is late and no reason is given.
    """
    given = reason.strip()
    if not given and needs_reason(recorded_at, now):
        raise Refused("Say why: this was recorded a while ago.")
    return given


def because(reason: str) -> str:
    """Return the reason as the end of a line in the history, or nothing."""
    return f": {reason}" if reason else ""
