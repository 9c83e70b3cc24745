"""What stands in the kilns is read once for a page, however often it is asked for."""

import datetime as dt

from django.db import connection
from django.test.utils import CaptureQueriesContext

from firing.firings.services import running
from firing.kiln_time.selectors.kiln_time import kiln_states
from firing.kiln_time.selectors.standing import StandingTime
from firing.kiln_time.selectors.unloading import Unloading
from tests import make
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)


def test_everything_is_read_once_and_as_it_would_be_alone(cast):
    hot = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW)
    running.start_firing(firing=hot, by=None, at=NOW)
    later = build.booking(kiln=cast.kiln, starts_at=NOW + 90 * HOUR)
    standing = StandingTime(cast.studio, NOW + HOUR)
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            free_at = [standing.unloading.free_at(one) for one in standing.bookings]
            assert list(standing.loads) == [hot.booking_id]
            assert [one.pk for one in standing.inside.values()] == [hot.pk]
    assert not asked
    assert [one.pk for one in standing.bookings] == [hot.booking_id, later.pk]
    alone = Unloading(cast.studio, NOW + HOUR)
    assert free_at == [alone.free_at(one) for one in standing.bookings]


def test_a_kiln_has_its_own_bookings_of_the_next_sixty_days(cast):
    other = make.kiln(studio=cast.studio, name="Other")
    near = build.booking(kiln=cast.kiln, starts_at=NOW + HOUR)
    build.booking(kiln=cast.kiln, starts_at=NOW + 61 * 24 * HOUR)
    theirs = build.booking(kiln=other, starts_at=NOW + HOUR)
    standing = StandingTime(cast.studio, NOW)
    assert standing.coming_in([cast.kiln.pk]) == [near]
    assert standing.coming_in([cast.kiln.pk, other.pk]) == [near, theirs]


def test_kilns_are_told_the_same_whoever_read_what_stands_there(cast):
    hot = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=NOW)
    running.start_firing(firing=hot, by=None, at=NOW)
    now, viewer = NOW + HOUR, cast.viewer()
    told = [
        kiln_states([cast.kiln], viewer=viewer, now=now, standing=standing)
        for standing in (
            None,
            StandingTime(cast.studio, now),
            StandingTime(cast.studio, now, with_curves=False),
        )
    ]
    assert told[0] == told[1] == told[2]
    assert told[0][0].booking == hot.booking
