"""The earliest start for real work in a kiln: where it is empty, and somebody is in."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from firing.kiln_time.selectors.bookings import HORIZON, STEP
from firing.kiln_time.selectors.occupancy import Occupancy, taken_in
from firing.kiln_time.selectors.possible import gives_way
from firing.kiln_time.selectors.unloading import Unloading
from firing.planning.problem import practice
from firing.planning.spans.free_time import NoRoom, Span, earliest_start
from studio.models import Kiln


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSpan:
    """Free time in a kiln; without an end when nothing is booked after it."""

    starts_at: datetime
    ends_at: datetime | None


def earliest_free_start(
    *,
    kiln: Kiln,
    lasts_s: float,
    after: datetime,
    attended_s: float = practice.LOAD_SHEETS_S,
) -> datetime:
    """Return the earliest start that leaves a kiln free for the whole span.

    Loading must fall into access hours; the rest runs by itself. A kiln is taken until
    it is emptied, and a planned load that cannot happen takes nothing.

    Raises
    ------
    NoRoom
        When nothing is free within half a year.
    """
    after = after.astimezone(UTC)
    unloading, lasts = Unloading(kiln.studio, after), timedelta(seconds=lasts_s)
    taken = taken_in(kiln, unloading)
    planned = [one for one in taken if one.planned is not None]
    fixed = [one.span for one in taken if one.planned is None]
    while True:
        start = earliest_start(
            after=after,
            lasts=lasts,
            taken=fixed,
            access=unloading.hours,
            attended=timedelta(seconds=attended_s),
            step=STEP,
            until=after + HORIZON,
        )
        # Whether a planned load can happen is asked only of those in the way.
        span = Span(starts_at=start, ends_at=start + lasts)
        held = [one.span for one in planned if _holds(one, span, after)]
        if not held:
            return start
        fixed += held
        planned = [one for one in planned if one.span not in held]


def _holds(one: Occupancy, span: Span, now: datetime) -> bool:
    if one.planned is None or not one.span.overlaps(span):
        return False
    return not gives_way(one.planned, now)


def next_free_span(*, kiln: Kiln, lasts_s: float, after: datetime) -> FreeSpan | None:
    """Return the next free time that fits the whole span, and when it ends.

    It begins while somebody may be in, so that it can be used.
    """
    try:
        starts_at = earliest_free_start(
            kiln=kiln, lasts_s=lasts_s, after=after, attended_s=0
        )
    except NoRoom:
        return None
    later = [
        one.span.starts_at
        for one in taken_in(kiln, Unloading(kiln.studio, starts_at))
        if one.span.starts_at > starts_at
    ]
    return FreeSpan(starts_at=starts_at, ends_at=min(later, default=None))
