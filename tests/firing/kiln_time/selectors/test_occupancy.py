"""What holds a kiln from now on, and until when."""

import datetime as dt

import pytest

from firing.firings.services import running
from firing.kiln_time.selectors.occupancy import LOOK_AHEAD, taken_in
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking
from studio.models import Closure
from tests import make
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def taken(cast):
    def found(hours=0.0, **more):
        return taken_in(cast.kiln, Unloading(cast.studio, NOW + hours * HOUR), **more)

    return found


def test_bookings_and_closures_come_in_order_and_only_this_kilns(cast, taken):
    later = build.booking(kiln=cast.kiln, starts_at=NOW + 9 * HOUR)
    build.booking(kiln=make.kiln(studio=cast.studio))
    closure = Closure.across_studios.create(
        studio=cast.studio,
        kiln=None,
        starts_at=NOW + 2 * HOUR,
        ends_at=NOW + 3 * HOUR,
        reason="Holiday",
    )
    assert [one.what for one in taken()] == [closure, later]
    assert [one.what for one in taken(besides=later)] == [closure]


def test_what_is_cancelled_past_or_beyond_the_look_ahead_holds_nothing(cast, taken):
    gone = build.booking(kiln=cast.kiln, starts_at=NOW)
    Booking.across_studios.filter(pk=gone.pk).update(cancelled_at=NOW)
    build.booking(kiln=cast.kiln, starts_at=NOW + 6 * HOUR, hours=1)
    assert len(taken()) == 1
    assert taken(7) == []
    build.booking(kiln=cast.kiln, starts_at=NOW + LOOK_AHEAD)
    assert len(taken()) == 1


def test_a_firing_that_runs_late_holds_its_kiln_past_its_booking(cast, taken):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    ends_at = Booking.owned.for_studio(cast.studio).get(pk=firing.booking_id).ends_at
    late = (ends_at - NOW) / HOUR + 1
    assert taken(late) == []
    running.start_firing(firing=firing, by=None, at=NOW)
    (one,) = taken(late)
    assert one.span.ends_at > NOW + late * HOUR
