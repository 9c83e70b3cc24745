"""Between instants and the planner's slots: half hours of real time from a Monday.

A slot is real time, so that a run keeps its length across a clock change; wall times
are turned into instants first, and only the names of days follow the clock.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from studio.errors import StudioError

SLOT = timedelta(minutes=30)


class SlotProblem(StudioError):
    """An instant that cannot be a slot."""


def origin_before(instant: datetime, zone: ZoneInfo) -> datetime:
    """Return the start of the week, Monday 00:00 in the studio's local time, in UTC.

    Parameters
    ----------
    instant : datetime
        Aware; the first moment to be planned.
    zone : ZoneInfo
        Of the studio's clock.

    Raises
    ------
    SlotProblem
        If the instant has no zone.

    References
    ----------
    Slot 0 is Monday 00:00 local time.
    """
    _check_aware(instant)
    local = instant.astimezone(zone)
    monday = (local - timedelta(days=local.weekday())).date()
    start = datetime(monday.year, monday.month, monday.day, tzinfo=zone)
    return start.astimezone(UTC)


def slot_from(instant: datetime, origin: datetime) -> int:
    """Return the first slot that begins at the instant or later.

    For what may not begin before it; may be negative.

    Parameters
    ----------
    instant, origin : datetime
        Aware.

    Raises
    ------
    SlotProblem
        If one of them has no zone.

    References
    ----------
    Elapsed time over half an hour, rounded up.
    """
    return -(-_elapsed(instant, origin) // SLOT)


def slot_until(instant: datetime, origin: datetime) -> int:
    """Return the last slot boundary at the instant or before.

    For what must have ended by then.

    Parameters
    ----------
    instant, origin : datetime
        Aware.

    Raises
    ------
    SlotProblem
        If one of them has no zone.

    References
    ----------
    Elapsed time over half an hour, rounded down.
    """
    return _elapsed(instant, origin) // SLOT


def instant_of(slot: int, origin: datetime, zone: ZoneInfo) -> datetime:
    """Return the instant at which a slot begins, in the studio's local time.

    Parameters
    ----------
    slot : int
        From the origin.
    origin : datetime
        Aware.
    zone : ZoneInfo
        Of the studio's clock.

    References
    ----------
    Elapsed time; the offset is that of the day.
    """
    _check_aware(origin)
    return (origin.astimezone(UTC) + slot * SLOT).astimezone(zone)


def _elapsed(instant: datetime, origin: datetime) -> timedelta:
    _check_aware(instant)
    _check_aware(origin)
    return instant.astimezone(UTC) - origin.astimezone(UTC)


def _check_aware(instant: datetime) -> None:
    if instant.utcoffset() is None:
        raise SlotProblem("Every instant needs a time zone.")
