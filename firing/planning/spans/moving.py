"""Where one span of kiln time may begin: exact arithmetic over what is there and who is
in.

A firing is loaded while somebody is in, runs by itself, and holds its kiln until it is
cold, somebody is in again, and it has been emptied. Other spans already include that.
All instants are aware; ranges of starts are closed.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from firing.planning.spans.free_time import Span, merged


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """The task to find a place for.

    Attributes
    ----------
    lasts : timedelta
        How long the kiln is booked.
    load : timedelta
        From the start for so long somebody must be in; zero for a plain span.
    cold : timedelta or None
        From the start until it may be opened; None for a plain span.
    unload : timedelta
        How long emptying takes, with somebody in.
    """

    lasts: timedelta
    load: timedelta = timedelta()
    cold: timedelta | None = None
    unload: timedelta = timedelta()


def openings(access: Sequence[Span], unload: timedelta) -> tuple[Span, ...]:
    """Return when unloading may begin, so that it is over while somebody is in.

    Parameters
    ----------
    access : sequence of Span
        When somebody may be in.
    unload : timedelta
        How long it takes.

    Returns
    -------
    tuple of Span
        In order; here the end counts as within.

    References
    ----------
    Arithmetic.
    """
    return tuple(
        Span(starts_at=hours.starts_at, ends_at=hours.ends_at - unload)
        for hours in merged(access)
        if hours.ends_at - unload >= hours.starts_at
    )


def opened_at(cold_at: datetime, opened: Sequence[Span]) -> datetime | None:
    """Return when unloading begins if the kiln is cold from `cold_at` on.

    Parameters
    ----------
    cold_at : datetime
        When it may be opened.
    opened : sequence of Span
        As `openings` returns them.

    References
    ----------
    Arithmetic.
    """
    for span in opened:
        if cold_at <= span.ends_at:
            return max(cold_at, span.starts_at)
    return None


def free_at(start: datetime, task: Task, opened: Sequence[Span]) -> datetime | None:
    """Return when the kiln is free again after a task that begins at `start`.

    Parameters
    ----------
    start : datetime
        When loading begins.
    task : Task
        What is in it.
    opened : sequence of Span
        As `openings` returns them.

    Returns
    -------
    datetime or None
        None when nobody is ever in to empty it.

    References
    ----------
    Arithmetic.
    """
    ends_at = start + task.lasts
    if task.cold is None:
        return ends_at
    opening = opened_at(start + task.cold, opened)
    return None if opening is None else max(ends_at, opening + task.unload)


def latest_start_before(
    taken_at: datetime, task: Task, opened: Sequence[Span]
) -> datetime | None:
    """Return the latest start that leaves the kiln free at `taken_at`, if any does.

    Parameters
    ----------
    taken_at : datetime
        When what comes next begins.
    task : Task
        What is to be over by then.
    opened : sequence of Span
        As `openings` returns them.

    References
    ----------
    `free_at` never falls as the start grows, so its inverse is one instant.
    """
    latest = taken_at - task.lasts
    if task.cold is None:
        return latest
    last_opening = taken_at - task.unload
    number = bisect_right([span.starts_at for span in opened], last_opening)
    if not number:
        return None
    cold_at = min(opened[number - 1].ends_at, last_opening)
    return min(latest, cold_at - task.cold)


def permitted_starts(
    task: Task,
    *,
    taken: Sequence[Span],
    access: Sequence[Span],
    not_before: datetime,
    until: datetime,
) -> tuple[Span, ...]:
    """Return every range of starts at which a task may begin.

    Parameters
    ----------
    task : Task
        What is to find a place.
    taken : sequence of Span
        What stands in the kiln, each until the kiln is really free again.
    access : sequence of Span
        When somebody may be in.
    not_before, until : datetime
        No start outside these.

    Returns
    -------
    tuple of Span
        In order; both ends are permitted starts.

    References
    ----------
    Cuts the forbidden open intervals out of the closed ones; nothing is tried.
    """
    ranges = [(not_before, until)]
    if task.load:
        attended = openings(access, task.load)
        ranges = [
            (max(not_before, span.starts_at), min(until, span.ends_at))
            for span in attended
        ]
    opened = openings(access, task.unload)
    for hole in taken:
        before = latest_start_before(hole.starts_at, task, opened)
        parts = []
        for low, high in ranges:
            if before is not None:
                parts.append((low, min(high, before)))
            parts.append((max(low, hole.ends_at), high))
        ranges = sorted({part for part in parts if part[0] <= part[1]})
    return tuple(Span(starts_at=a, ends_at=b) for a, b in _joined(ranges))


def nearest_start(
    asked: datetime, ranges: Sequence[Span], step: timedelta
) -> datetime | None:
    """Return the permitted start nearest to the requested one.

    Parameters
    ----------
    asked : datetime
        Itself the answer where it is permitted.
    ranges : sequence of Span
        As `permitted_starts` returns them.
    step : timedelta
        Any other answer is a full step of the clock from midnight UTC where the range
        has one, else the range's own end.

    Returns
    -------
    datetime or None
        The earlier one of two that are as near; None without any range.

    References
    ----------
    Arithmetic.
    """
    found = []
    for span in ranges:
        if span.starts_at <= asked <= span.ends_at:
            return asked
        if asked < span.starts_at:
            start = _up(span.starts_at, step)
            found.append(start if start <= span.ends_at else span.starts_at)
        else:
            start = _down(span.ends_at, step)
            found.append(start if start >= span.starts_at else span.ends_at)
    return min(found, key=lambda start: (abs(start - asked), start), default=None)


def first_start(ranges: Sequence[Span], step: timedelta) -> datetime | None:
    """Return the first permitted start, on the clock's grid where a range has one.

    Parameters
    ----------
    ranges : sequence of Span
        In order, as `permitted_starts` returns them.
    step : timedelta
        The grid, from midnight UTC.

    References
    ----------
    Arithmetic.
    """
    if not ranges:
        return None
    start = _up(ranges[0].starts_at, step)
    return start if start <= ranges[0].ends_at else ranges[0].starts_at


def _joined(
    ranges: Sequence[tuple[datetime, datetime]],
) -> list[tuple[datetime, datetime]]:
    """Drop ranges that lie within others; those that touch become one."""
    joined: list[tuple[datetime, datetime]] = []
    for low, high in sorted(ranges):
        if joined and low <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return joined


def _down(at: datetime, step: timedelta) -> datetime:
    midnight = at.replace(hour=0, minute=0, second=0, microsecond=0)
    return at - (at - midnight) % step


def _up(at: datetime, step: timedelta) -> datetime:
    floor = _down(at, step)
    return floor if floor == at else floor + step
