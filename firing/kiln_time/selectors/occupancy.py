"""What takes up a kiln, each thing until the kiln is really free again."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q

from firing.kiln_time.selectors.access import closures_of
from firing.kiln_time.selectors.booking_loads import is_started
from firing.kiln_time.selectors.bookings import HORIZON, bookings
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking, PlannedFiring
from firing.planning.spans.free_time import Span
from studio.models import Closure, Kiln

LOOK_AHEAD: timedelta = 2 * HORIZON


@dataclass(frozen=True, slots=True, kw_only=True)
class Occupancy:
    """A booking or a closure, and how long it really takes up the kiln."""

    span: Span
    what: Booking | Closure

    @property
    def planned(self) -> PlannedFiring | None:
        """The planned firing that it is provisionally held for, if any."""
        found: PlannedFiring | None = getattr(self.what, "planned_firing", None)
        return found if getattr(self.what, "is_provisional", False) else None


def taken_in(
    kiln: Kiln,
    unloading: Unloading,
    *,
    besides: Booking | None = None,
    until: datetime | None = None,
) -> list[Occupancy]:
    """Return what takes up a kiln from now on, in order; one booking may be left out."""
    now = unloading.since
    until = until or now + LOOK_AHEAD
    is_inside = Q(firing__started_at__isnull=False, firing__finished_at__isnull=True)
    standing = (
        bookings(kiln.studio)
        .filter(
            Q(ends_at__gt=now) | is_inside,
            kiln=kiln,
            cancelled_at__isnull=True,
            starts_at__lt=until,
        )
        .select_related("planned_firing__booking")
    )
    if besides is not None:
        standing = standing.exclude(pk=besides.pk)
    found = [
        Occupancy(
            span=Span(starts_at=one.starts_at, ends_at=unloading.free_at(one)), what=one
        )
        for one in standing
        # A past booking that was never started left nothing in the kiln.
        if is_started(one) or one.ends_at > now
    ]
    found += [
        Occupancy(span=Span(starts_at=one.starts_at, ends_at=one.ends_at), what=one)
        for one in closures_of(kiln, now, until)
    ]
    return sorted(found, key=lambda one: one.span)
