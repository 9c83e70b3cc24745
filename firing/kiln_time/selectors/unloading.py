"""When a kiln is really free again: cold, somebody in to open it, and emptied."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import cached_property

from firing.kiln_time.selectors.access import access_spans
from firing.loads.selectors.firings import running_firings
from firing.loads.selectors.known import known_of
from firing.models import Booking, Firing
from firing.planning.problem import practice
from firing.planning.spans.free_time import Span
from firing.planning.spans.moving import opened_at, openings
from studio.models import Studio

UNLOAD = timedelta(seconds=practice.UNLOAD_S)
LOOK_AHEAD = timedelta(days=400)


class Unloading:
    """A studio's access hours, read once, and what follows for its bookings.

    Nothing is unloaded before `since`, which is now unless the past is told. The hours
    reach 400 days beyond it, or beyond `after` if that is later. `cold` is when running
    kilns are cold by their readings, by booking; read here unless given.
    """

    def __init__(
        self,
        studio: Studio,
        since: datetime,
        *,
        now: datetime | None = None,
        after: datetime | None = None,
        cold: Mapping[int, datetime] | None = None,
    ) -> None:
        self._given = cold
        self.studio, self.since, self.now = studio, since, now or since
        until = max(since, after or since) + LOOK_AHEAD
        self.hours: tuple[Span, ...] = access_spans(
            studio, since - timedelta(days=1), until
        )
        self.openings = openings(self.hours, UNLOAD)

    def free_at(self, booking: Booking) -> datetime:
        """Return when the kiln is empty; somebody must be in to open it after a firing."""
        ends_at: datetime = booking.ends_at
        firing: Firing | None = getattr(booking, "firing", None)
        if not booking.planned_curve:
            return ends_at
        if firing is not None and firing.finished_at is not None:
            return ends_at
        return max(ends_at, self.opened_at(self.cold_at(booking)) + UNLOAD)

    def cold_at(self, booking: Booking) -> datetime:
        """Return when a kiln may be opened: by its readings, or else by the plan."""
        planned: datetime = booking.opens_at
        return self._cold.get(booking.pk, planned)

    @cached_property
    def _cold(self) -> Mapping[int, datetime]:
        if self._given is not None:
            return self._given
        rows = running_firings(self.studio).prefetch_related(None)
        running = {firing.pk: firing for firing in rows}
        known = known_of(self.studio, running.values(), now=self.now)
        return {running[pk].booking_id: one.opens_at for pk, one in known.items()}

    def opened_at(self, cold_at: datetime) -> datetime:
        """Return when somebody is in to open a kiln that is cold from then on."""
        at = max(cold_at, self.since)
        return opened_at(at, self.openings) or at
