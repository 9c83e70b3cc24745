"""Spans of time in one kiln: which overlap, where the next free one is, and when
somebody may open the door.

All instants are aware; lengths are real elapsed seconds, also across a clock change.
Who books what, and access that a plan must respect, are elsewhere.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from studio.errors import StudioError

DAY = timedelta(days=1)
# Past a year of closures nobody is waiting for an answer.
LOOK_AHEAD_DAYS = 400


class CalendarProblem(StudioError):
    """Times that make no span, or no moment at which the kiln may be opened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """A half-open span: `start` belongs to it, `end` does not."""

    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        _check_aware(self.start, self.end)
        if self.end.astimezone(UTC) <= self.start.astimezone(UTC):
            raise CalendarProblem("A span of time ends after it starts.")

    @property
    def length_s(self) -> float:
        """Elapsed time [s]."""
        return (self.end.astimezone(UTC) - self.start.astimezone(UTC)).total_seconds()


@dataclass(frozen=True, slots=True, kw_only=True)
class AccessWindow:
    """Hours of one weekday in which people may be at the kiln.

    Attributes
    ----------
    weekday : int
        0 is Monday, 6 is Sunday.
    opens, closes : time
        Local wall-clock times; closing at or before opening means on the next day, so
        that 00:00 to 00:00 is the whole day.
    """

    weekday: int
    opens: time
    closes: time

    def __post_init__(self) -> None:
        if not 0 <= self.weekday <= 6:
            raise CalendarProblem("A weekday is 0 (Monday) to 6 (Sunday).")
        if self.opens.tzinfo or self.closes.tzinfo:
            raise CalendarProblem("Access hours are local times, without a zone.")


def overlaps(one: Span, other: Span) -> bool:
    """Say whether two spans share an instant; one may start as the other ends.

    Parameters
    ----------
    one, other : Span
        Half-open spans, in any zones.

    References
    ----------
    Definition of half-open intervals.
    """
    # Two datetimes of one zone compare by wall clock, which a clock change confuses.
    return one.start.astimezone(UTC) < other.end.astimezone(
        UTC
    ) and other.start.astimezone(UTC) < one.end.astimezone(UTC)


def next_free_span(
    busy: Iterable[Span],
    length_s: float,
    not_before: datetime,
    closed: Iterable[Span] = (),
) -> Span:
    """Return the earliest span of this length that touches no booking and no closure.

    Parameters
    ----------
    busy : iterable of Span
        Bookings of the kiln, in any order; they may overlap.
    length_s : float
        Length wanted, above zero [s].
    not_before : datetime
        Earliest start.
    closed : iterable of Span
        Times at which the kiln may not run: maintenance, holidays.

    Returns
    -------
    Span
        In the zone of `not_before`.

    Raises
    ------
    CalendarProblem
        If the length is not above zero and below a year, or an instant has no zone.

    References
    ----------
    First fit among sorted intervals.
    """
    if not 0 < length_s <= 366 * 86_400:
        raise CalendarProblem("The time wanted is above zero and at most a year.")
    _check_aware(not_before)
    zone = not_before.tzinfo
    start = not_before.astimezone(UTC)
    length = timedelta(seconds=length_s)
    for taken in sorted((*busy, *closed), key=lambda span: span.start.astimezone(UTC)):
        if taken.start.astimezone(UTC) >= start + length:
            break
        start = max(start, taken.end.astimezone(UTC))
    return Span(start=start.astimezone(zone), end=(start + length).astimezone(zone))


def first_access_after(
    instant: datetime,
    windows: Sequence[AccessWindow],
    zone: ZoneInfo,
    closed: Iterable[Span] = (),
) -> datetime:
    """Return the first moment, from this instant on, at which the kiln may be opened.

    Parameters
    ----------
    instant : datetime
        When the kiln is cold enough.
    windows : sequence of AccessWindow
        Hours of access in a week.
    zone : ZoneInfo
        Zone of the studio's clock.
    closed : iterable of Span
        Times at which nobody is there in spite of the hours.

    Returns
    -------
    datetime
        In `zone`; the instant itself if people are there.

    Raises
    ------
    CalendarProblem
        If there are no windows, or closures cover them for more than a year.

    Notes
    -----
    A local time that a clock change skips or repeats is read with the offset before
    the change (``fold=0``): hours from 02:30 start an hour later by the clock on the
    day on which 02:30 does not exist, and at its first 02:30 when there are two.

    References
    ----------
    PEP 495 on local times that do not exist or exist twice.
    """
    _check_aware(instant)
    if not windows:
        raise CalendarProblem(
            "No hours of access are set for this kiln. Set them first."
        )
    earliest = instant.astimezone(UTC)
    closures = sorted(closed, key=lambda span: span.start.astimezone(UTC))
    # A window of the day before may reach past midnight.
    first_day = earliest.astimezone(zone).date() - DAY
    for days in range(LOOK_AHEAD_DAYS):
        day = first_day + days * DAY
        todays = [_utc_span(window, day, zone) for window in windows]
        for opens, closes in sorted(span for span in todays if span is not None):
            moment = _outside(closures, max(opens, earliest))
            if moment < closes:
                return moment.astimezone(zone)
    raise CalendarProblem("Closures leave no access to this kiln for more than a year.")


def _utc_span(
    window: AccessWindow, day: date, zone: ZoneInfo
) -> tuple[datetime, datetime] | None:
    """Return the window on this day in UTC, or None if it is another weekday's."""
    if day.weekday() != window.weekday:
        return None
    closing_day = day + DAY if window.closes <= window.opens else day
    opens = datetime.combine(day, window.opens, zone).astimezone(UTC)
    closes = datetime.combine(closing_day, window.closes, zone).astimezone(UTC)
    return (opens, closes)


def _outside(closures: Sequence[Span], moment: datetime) -> datetime:
    """Move a moment out of the closures, which are sorted by start."""
    for closure in closures:
        if closure.start.astimezone(UTC) <= moment < closure.end.astimezone(UTC):
            moment = closure.end.astimezone(UTC)
    return moment


def _check_aware(*instants: datetime) -> None:
    if any(instant.utcoffset() is None for instant in instants):
        raise CalendarProblem("Every instant needs a time zone.")
