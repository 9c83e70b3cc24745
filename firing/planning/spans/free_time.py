"""Where a span of work fits between what is already there: pure arithmetic of instants.

Bookings, closures and access hours are read elsewhere and passed in as half-open spans,
so one may end at the instant the next one starts.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from studio.errors import StudioError


class NoRoom(StudioError):
    """There is no room for the span within the time that was searched."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Span:
    """A half-open span of time: aware instants, the end not included."""

    starts_at: datetime
    ends_at: datetime

    def overlaps(self, other: "Span") -> bool:
        """Say whether the two share an instant.

        References
        ----------
        Half-open intervals: [a, b) and [c, d) meet when a < d and c < b.
        """
        return self.starts_at < other.ends_at and other.starts_at < self.ends_at


def merged(spans: Sequence[Span]) -> tuple[Span, ...]:
    """Return the spans in order, those that touch or overlap joined into one.

    Parameters
    ----------
    spans : sequence of Span
        In any order.

    References
    ----------
    Arithmetic.
    """
    joined: list[Span] = []
    for span in sorted(spans):
        if joined and span.starts_at <= joined[-1].ends_at:
            longest = max(span.ends_at, joined[-1].ends_at)
            joined[-1] = Span(starts_at=joined[-1].starts_at, ends_at=longest)
        else:
            joined.append(span)
    return tuple(joined)


def without(spans: Sequence[Span], taken: Sequence[Span]) -> tuple[Span, ...]:
    """Return what is left of the spans when the taken ones are cut out.

    Parameters
    ----------
    spans, taken : sequence of Span
        In any order.

    References
    ----------
    Arithmetic.
    """
    left = list(merged(spans))
    for hole in merged(taken):
        parts = []
        for span in left:
            if not span.overlaps(hole):
                parts.append(span)
                continue
            if span.starts_at < hole.starts_at:
                parts.append(Span(starts_at=span.starts_at, ends_at=hole.starts_at))
            if hole.ends_at < span.ends_at:
                parts.append(Span(starts_at=hole.ends_at, ends_at=span.ends_at))
        left = parts
    return tuple(left)


def earliest_start(
    *,
    after: datetime,
    lasts: timedelta,
    taken: Sequence[Span],
    access: Sequence[Span],
    attended: timedelta,
    step: timedelta,
    until: datetime,
) -> datetime:
    """Return the earliest instant from which the whole span is free.

    Parameters
    ----------
    after : datetime
        Not before this.
    lasts : timedelta
        Length of the span.
    taken : sequence of Span
        What nothing may overlap.
    access : sequence of Span
        When somebody may be in.
    attended : timedelta
        Somebody must be in for this long from the start: loading.
    step : timedelta
        Starts lie on full steps of the clock, counted from midnight UTC.
    until : datetime
        Starts later than this are not looked at.

    Raises
    ------
    NoRoom
        When nothing is free that early.

    References
    ----------
    Greedy: each refused start jumps to the end of what refused it, so none is missed.
    """
    blocked, opened = merged(taken), merged(access)
    start = _on_step(after, step)
    while start <= until:
        span = Span(starts_at=start, ends_at=start + lasts)
        in_the_way = next((hole for hole in blocked if hole.overlaps(span)), None)
        if in_the_way is not None:
            start = _on_step(in_the_way.ends_at, step)
            continue
        attending = next((hours for hours in opened if hours.ends_at > start), None)
        if attending is None:
            break
        if start < attending.starts_at:
            start = _on_step(attending.starts_at, step)
        elif start + attended > attending.ends_at:
            start = _on_step(attending.ends_at, step)
        else:
            return start
    raise NoRoom("Nothing long enough is free in the time that can be planned.")


def next_attended(at: datetime, access: Sequence[Span]) -> datetime | None:
    """Return the first instant from `at` on at which somebody may be in.

    Parameters
    ----------
    at : datetime
        An instant, such as when a kiln may be opened.
    access : sequence of Span
        When somebody may be in.

    References
    ----------
    Arithmetic.
    """
    for hours in merged(access):
        if at < hours.ends_at:
            return max(at, hours.starts_at)
    return None


def _on_step(at: datetime, step: timedelta) -> datetime:
    midnight = at.replace(hour=0, minute=0, second=0, microsecond=0)
    over = (at - midnight) % step
    return at if not over else at + (step - over)
