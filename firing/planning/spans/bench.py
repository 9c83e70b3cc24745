"""When one person works by hand: a week's hours laid over the calendar, without the
times away. Pure arithmetic of instants; whose hours they are is read elsewhere.
"""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from firing.planning.spans.free_time import Span, merged

# The form's last minute means midnight: a night is two spans that meet there.
LAST_MINUTE = time(23, 59)
WeekSpan = tuple[int, time, time]
Days = tuple[date, date]


def worked_spans(
    week: Sequence[WeekSpan],
    away: Sequence[Days],
    *,
    zone: ZoneInfo,
    starts_at: datetime,
    ends_at: datetime,
) -> tuple[Span, ...]:
    """Return when a person works between two instants, in UTC and in order.

    A span in the hour that a clock change leaves out is shorter by it, or dropped; one
    over the hour that comes twice is longer.

    Parameters
    ----------
    week : sequence of (weekday, from, to)
        By the local clock, Monday 0; each ends after it starts.
    away : sequence of (first, last) date
        Whole local days, both included.
    zone : ZoneInfo
        Of the studio's clock.
    starts_at, ends_at : datetime
        Aware.

    References
    ----------
    Local times are turned into instants one by one; lengths are those of real time.
    """
    spans = []
    day = starts_at.astimezone(zone).date()
    last = ends_at.astimezone(zone).date()
    while day <= last:
        if not is_away(day, away):
            spans += _of_day(day, week, zone)
        day += timedelta(days=1)
    begin, end = starts_at.astimezone(UTC), ends_at.astimezone(UTC)
    return merged(
        [
            Span(starts_at=max(one.starts_at, begin), ends_at=min(one.ends_at, end))
            for one in spans
            if one.starts_at < end and begin < one.ends_at
        ]
    )


def is_away(day: date, away: Sequence[Days]) -> bool:
    """Return whether a day is one of the days away.

    Parameters
    ----------
    day : date
        By the local clock.
    away : sequence of (first, last) date
        Both included.

    References
    ----------
    Arithmetic.
    """
    return any(first <= day <= last for first, last in away)


def _of_day(day: date, week: Sequence[WeekSpan], zone: ZoneInfo) -> list[Span]:
    found = []
    for weekday, starts, ends in week:
        if weekday != day.weekday():
            continue
        begin = datetime.combine(day, starts, tzinfo=zone).astimezone(UTC)
        end = datetime.combine(day, ends, tzinfo=zone).astimezone(UTC)
        if ends >= LAST_MINUTE:
            midnight = datetime.combine(day + timedelta(days=1), time(), tzinfo=zone)
            end = midnight.astimezone(UTC)
        if begin < end:
            found.append(Span(starts_at=begin, ends_at=end))
    return found
