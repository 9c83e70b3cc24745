"""The earliest start for real work in a kiln: where it is empty, and somebody is in."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from firing.kiln_time.selectors.access import access_spans
from firing.kiln_time.selectors.bookings import HORIZON, STEP
from firing.kiln_time.selectors.occupancy import LOOK_AHEAD, Occupancy, taken_in
from firing.kiln_time.selectors.possible import gives_way
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking
from firing.planning.problem import practice
from firing.planning.spans.free_time import NoRoom, Span, earliest_start
from studio.models import Kiln


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSpan:
    """Free time in a kiln; without an end when nothing is booked after it."""

    starts_at: datetime
    ends_at: datetime | None


class Free:
    """What takes up a kiln from a moment on, as it is known now.

    Planned loads that cannot happen take nothing; whether one can is asked only of those
    in the way. One booking may be left out: the one that is to be replaced.
    """

    def __init__(
        self,
        kiln: Kiln,
        after: datetime,
        *,
        now: datetime,
        besides: Booking | None = None,
    ) -> None:
        self.now = now
        taken = taken_in(
            kiln,
            Unloading(kiln.studio, min(now, after), now=now),
            besides=besides,
            until=max(now, after) + LOOK_AHEAD,
        )
        self.planned = [one for one in taken if one.planned is not None]
        self.fixed = [one.span for one in taken if one.planned is None]

    def in_the_way(self, span: Span) -> bool:
        """Return whether anything takes up the kiln in a span."""
        held = [one for one in self.planned if self._holds(one, span)]
        self.fixed += [one.span for one in held]
        self.planned = [one for one in self.planned if one not in held]
        return any(one.overlaps(span) for one in self.fixed)

    def until(self, start: datetime) -> datetime | None:
        """Return when the kiln is next taken after a start at which it is free."""
        held = [one.span for one in self.planned if self._holds(one, one.span)]
        later = [one.starts_at for one in self.fixed + held if one.starts_at > start]
        return min(later, default=None)

    def _holds(self, one: Occupancy, span: Span) -> bool:
        if one.planned is None or not one.span.overlaps(span):
            return False
        return not gives_way(one.planned, self.now)


def earliest_free_start(
    *,
    kiln: Kiln,
    lasts_s: float,
    after: datetime,
    now: datetime | None = None,
    attended_s: float = practice.LOAD_SHEETS_S,
    besides: Booking | None = None,
) -> datetime:
    """Return the earliest start that leaves a kiln free for the whole span.

    Loading must fall into access hours; the rest runs by itself. `now` is when it is
    asked, `after` unless it is given.

    Raises
    ------
    NoRoom
        When nothing is free within half a year.
    """
    after = after.astimezone(UTC)
    free = Free(kiln, after, now=now or after, besides=besides)
    return _earliest(free, kiln, after, timedelta(seconds=lasts_s), attended_s)


def _earliest(
    free: Free, kiln: Kiln, after: datetime, lasts: timedelta, attended_s: float
) -> datetime:
    access = access_spans(kiln.studio, after, after + HORIZON)
    while True:
        start = earliest_start(
            after=after,
            lasts=lasts,
            taken=free.fixed,
            access=access,
            attended=timedelta(seconds=attended_s),
            step=STEP,
            until=after + HORIZON,
        )
        if not free.in_the_way(Span(starts_at=start, ends_at=start + lasts)):
            return start


def is_free(
    kiln: Kiln, starts_at: datetime, lasts_s: float, *, besides: Booking, now: datetime
) -> bool:
    """Return whether a kiln is free for a span, besides one booking."""
    span = Span(starts_at=starts_at, ends_at=starts_at + timedelta(seconds=lasts_s))
    free = Free(kiln, starts_at, now=now, besides=besides)
    return not free.in_the_way(span)


def next_free_span(
    *, kiln: Kiln, lasts_s: float, after: datetime, now: datetime | None = None
) -> FreeSpan | None:
    """Return the next free time that fits the whole span, and when it ends.

    It begins while somebody may be in, so that it can be used.
    """
    after = after.astimezone(UTC)
    free = Free(kiln, after, now=now or after)
    try:
        starts_at = _earliest(free, kiln, after, timedelta(seconds=lasts_s), 0)
    except NoRoom:
        return None
    return FreeSpan(starts_at=starts_at, ends_at=free.until(starts_at))
