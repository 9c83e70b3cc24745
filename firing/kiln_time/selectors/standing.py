"""What stands in a studio's kilns from now on, read once for a whole page."""

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from functools import cached_property

from firing.kiln_time.selectors.booking_loads import BookingLoad, booking_loads
from firing.kiln_time.selectors.bookings import unfinished_bookings
from firing.kiln_time.selectors.unloading import Unloading
from firing.loads.selectors.firings import running_firings
from firing.loads.selectors.known import Known, known_of
from firing.models import Booking, Firing
from studio.models import Studio

LOOK_AHEAD = timedelta(days=60)


class StandingTime:
    """The unfinished bookings of a studio, their loads, and what is known of hot kilns.

    `also` are other bookings whose loads the page needs. Planned curves are only read
    `with_curves`.
    """

    def __init__(
        self,
        studio: Studio,
        now: datetime,
        *,
        also: Iterable[Booking] = (),
        with_curves: bool = True,
    ) -> None:
        self.studio, self.now, self.also = studio, now, tuple(also)
        self.with_curves = with_curves

    @cached_property
    def bookings(self) -> list[Booking]:
        """Return them by time."""
        found = unfinished_bookings(self.studio, self.now)
        if not self.with_curves:
            found = found.defer("planned_curve")
        return list(found.select_related(None).select_related("firing"))

    @cached_property
    def loads(self) -> Mapping[int, BookingLoad]:
        """Return the loads of all bookings, by the bookings' keys."""
        return booking_loads(self.studio, [*self.bookings, *self.also])

    @cached_property
    def inside(self) -> dict[int, Firing]:
        """Return the firing in each kiln that runs one, by the kiln's key."""
        rows = running_firings(self.studio).prefetch_related(None)
        return {firing.kiln_id: firing for firing in rows}

    @cached_property
    def known(self) -> dict[int, Known]:
        """Return what the readings say of what runs, by the firings' keys."""
        return known_of(self.studio, self.inside.values(), now=self.now)

    @cached_property
    def unloading(self) -> Unloading:
        cold = {
            one.booking_id: self.known[one.pk].opens_at for one in self.inside.values()
        }
        return Unloading(self.studio, self.now, cold=cold)

    def coming_in(self, kilns: Iterable[int]) -> list[Booking]:
        """Return what these kilns do in the next 60 days, by time."""
        own, last = set(kilns), self.now + LOOK_AHEAD
        return [
            one
            for one in self.bookings
            if one.kiln_id in own and one.ends_at > self.now and one.starts_at < last
        ]
