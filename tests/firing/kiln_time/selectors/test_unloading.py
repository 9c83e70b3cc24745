"""When a kiln is really free again: cold, somebody in, and emptied."""

import datetime as dt

import pytest

from firing.firings.services.running import start_firing
from firing.kiln_time.selectors.free_starts import earliest_free_start
from firing.kiln_time.selectors.unloading import UNLOAD, Unloading
from firing.models import Booking, Reading
from firing.plans.selectors.calendar import calendar_of, standing_in
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
# Access is from 8:00 to 20:00 in New York, five hours behind UTC: 13:00 to 01:00.
OPENS = dt.datetime(2026, 3, 4, 13, 0, tzinfo=dt.UTC)


def at(hour, *, day=4):
    return dt.datetime(2026, 3, day, hour, 0, tzinfo=dt.UTC)


@pytest.fixture
def unloading(cast):
    return Unloading(cast.studio, NOW)


@pytest.mark.parametrize(
    ("cold_at", "opened_at"),
    [
        (at(15), at(15)),
        (at(2, day=5), at(13, day=5)),
        # Past: only from now on, and nobody is in yet.
        (at(5), OPENS),
        # Half an hour is needed before eight in the evening.
        (at(0, day=5) + HOUR / 2, at(0, day=5) + HOUR / 2),
        (at(0, day=5) + HOUR * 0.6, at(13, day=5)),
    ],
)
def test_somebody_must_be_in_to_open_it(unloading, cold_at, opened_at):
    assert unloading.opened_at(cold_at) == opened_at


def test_a_rental_holds_the_kiln_until_it_ends(cast, unloading):
    booking = build.booking(kiln=cast.kiln, starts_at=at(20), hours=7)
    assert unloading.free_at(booking) == at(3, day=5)


def test_a_firing_holds_it_until_it_is_emptied(cast, unloading):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=at(14))
    booking = Booking.owned.for_studio(cast.studio).get(pk=firing.booking_id)
    Booking.across_studios.filter(pk=booking.pk).update(ends_at=at(15))
    booking.refresh_from_db()
    expected = unloading.opened_at(booking.opens_at) + UNLOAD
    assert unloading.free_at(booking) == expected > booking.ends_at


def test_what_was_unloaded_holds_it_no_longer(cast, unloading):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW)
    firing.started_at = NOW
    firing.finished_at = NOW + HOUR
    firing.save()
    booking = Booking.owned.for_studio(cast.studio).get(pk=firing.booking_id)
    assert unloading.free_at(booking) == booking.ends_at


def test_a_kiln_that_its_readings_say_is_still_hot_holds_it_longer(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW)
    start_firing(firing=firing, started_at=NOW, by=None, at=NOW)
    firing.refresh_from_db()
    booking = firing.booking
    late = booking.opens_at + 2 * HOUR
    for minutes, celsius in ((60, 190.0), (30, 180.0), (0, 170.0)):
        Reading.across_studios.create(
            studio=cast.studio,
            firing=firing,
            at=late - dt.timedelta(minutes=minutes),
            temperature_c=celsius,
        )
    now = Unloading(cast.studio, late)
    assert now.cold_at(booking) > late + HOUR
    assert now.free_at(booking) >= now.cold_at(booking) + UNLOAD
    calendar = calendar_of(cast.studio, now=late, weeks=2)
    (fixed,) = standing_in(cast.studio, [cast.kiln], calendar).fixed
    assert calendar.instant(fixed.end) >= now.free_at(booking)
    start = earliest_free_start(kiln=cast.kiln, lasts_s=3600, after=late)
    assert start >= now.free_at(booking), "nothing is proposed for a hot kiln"
