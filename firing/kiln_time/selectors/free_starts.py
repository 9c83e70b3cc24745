"""The earliest start for real work in a kiln: where it is empty, and somebody is in."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from firing.kiln_time.selectors.bookings import HORIZON, STEP
from firing.kiln_time.selectors.occupancy import LOOK_AHEAD, Occupancy, taken_in
from firing.kiln_time.selectors.possible import gives_way
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking
from firing.planning.problem import practice
from firing.planning.spans.free_time import NoRoom, Span, earliest_start
from studio.models import Kiln

NOT_FREE = "{kiln} is not free for that long within half a year."


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSpan:
    """Free time in a kiln; without an end when nothing is booked after it."""

    starts_at: datetime
    ends_at: datetime | None


class Free:
    """What takes up a kiln from a moment on, as it is known now; read once.

    Planned loads that cannot happen take nothing; whether one can is asked only of those
    in the way.
    """

    def __init__(
        self, kiln: Kiln, after: datetime, *, now: datetime, unloading: Unloading
    ) -> None:
        self.kiln, self.after, self.now = kiln, after.astimezone(UTC), now
        self.hours = unloading.hours
        self.taken = taken_in(kiln, unloading, until=max(now, after) + LOOK_AHEAD)
        self._holds: dict[int, bool] = {}

    def is_free(self, span: Span, *, besides: Booking) -> bool:
        """Return whether nothing but one booking takes up the kiln in a span."""
        return not any(
            one.what != besides and self._is_in_the_way(one, span) for one in self.taken
        )

    def earliest(self, lasts_s: float, *, attended_s: float) -> datetime:
        """Return the earliest start that leaves the kiln free for the whole span.

        Loading must fall into access hours; the rest runs by itself.

        Raises
        ------
        NoRoom
            When nothing is free within half a year.
        """
        lasts = timedelta(seconds=lasts_s)
        held = [one for one in self.taken if one.planned is None]
        while True:
            start = earliest_start(
                after=self.after,
                lasts=lasts,
                taken=[one.span for one in held],
                access=self.hours,
                attended=timedelta(seconds=attended_s),
                step=STEP,
                until=self.after + HORIZON,
            )
            span = Span(starts_at=start, ends_at=start + lasts)
            more = [one for one in self.taken if self._is_in_the_way(one, span)]
            if not more:
                return start
            held += more

    def until(self, start: datetime) -> datetime | None:
        """Return when the kiln is next taken after a start at which it is free."""
        later = (one for one in self.taken if one.span.starts_at > start)
        return next((one.span.starts_at for one in later if self._counts(one)), None)

    def _is_in_the_way(self, one: Occupancy, span: Span) -> bool:
        return one.span.overlaps(span) and self._counts(one)

    def _counts(self, one: Occupancy) -> bool:
        """Return whether something takes up the kiln, and is no load that cannot be."""
        if one.planned is None:
            return True
        key = one.planned.pk
        if key not in self._holds:
            self._holds[key] = not gives_way(one.planned, self.now)
        return self._holds[key]


def free_in(kiln: Kiln, after: datetime, *, now: datetime) -> Free:
    """Read what takes up one kiln."""
    unloading = Unloading(kiln.studio, min(now, after), now=now, after=after)
    return Free(kiln, after, now=now, unloading=unloading)


def earliest_free_start(
    *,
    kiln: Kiln,
    lasts_s: float,
    after: datetime,
    now: datetime | None = None,
    attended_s: float = practice.LOAD_SHEETS_S,
) -> datetime:
    """Return the earliest start in a kiln; `now` is when it is asked, else `after`.

    Raises
    ------
    NoRoom
        When nothing is free within half a year.
    """
    free = free_in(kiln, after, now=now or after)
    return free.earliest(lasts_s, attended_s=attended_s)


def next_free_span(
    *, kiln: Kiln, lasts_s: float, after: datetime, now: datetime
) -> FreeSpan | None:
    """Return the next free time that fits the whole span, and when it ends.

    It begins while somebody may be in, so that it can be used.
    """
    free = free_in(kiln, after, now=now)
    try:
        starts_at = free.earliest(lasts_s, attended_s=0)
    except NoRoom:
        return None
    return FreeSpan(starts_at=starts_at, ends_at=free.until(starts_at))
