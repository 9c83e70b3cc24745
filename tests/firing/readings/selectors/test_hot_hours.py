"""The hours that a kiln was hot: each curve read once, and anew when it changes."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from firing.models import Reading, ReadingImport
from firing.physics.kiln.wear import hours_above
from firing.readings.selectors.hot_hours import HOT_C, uses
from firing.readings.services.loggers import make_logger
from firing.readings.services.readings import remove_import
from tests.firing import recorded
from tests.make import NOW

pytestmark = pytest.mark.django_db


def hours(kiln):
    return [one.hours for one in uses(kiln.studio, [kiln], has_hours=True)]


def hot(points):
    return hours_above([(s, c) for s, c in points], HOT_C)


@pytest.fixture
def firing(cast):
    """A firing that was recorded and is over."""
    return recorded.finished(
        kiln=cast.kiln, glass=cast.glass, model=recorded.true_kiln(cast.kiln)
    )


def test_hours_are_those_of_the_readings_and_no_curve_is_read_twice(cast, firing):
    source = ReadingImport.owned.for_studio(cast.studio).get()
    first = hours(cast.kiln)
    assert first == [pytest.approx(hot(source.thin_curve))]
    assert first[0] > 1
    with CaptureQueriesContext(
        connection,
    ) as asked:
        assert hours(cast.kiln) == first
    assert not [one for one in asked if "thin_curve" in one["sql"]]


def test_without_its_readings_a_firing_counts_as_it_was_planned(cast, firing):
    read = hours(cast.kiln)
    source = ReadingImport.owned.for_studio(cast.studio).get()
    remove_import(source=source, by=None, at=NOW)
    planned = hours(cast.kiln)
    assert planned == [pytest.approx(hot(firing.booking.planned_curve))]
    assert planned != read


def test_what_a_logger_sent_counts_and_what_comes_late_as_well(cast):
    firing = recorded.finished(kiln=cast.kiln, glass=cast.glass)
    logger = make_logger(kiln=cast.kiln, name="Shelf", by=None, at=NOW)
    remove_import(
        source=ReadingImport.owned.for_studio(cast.studio).get(), by=None, at=NOW
    )

    def send(*points):
        Reading.across_studios.bulk_create(
            Reading(
                studio=cast.studio,
                firing=firing,
                logger=logger,
                at=firing.booking.starts_at + dt.timedelta(hours=hour),
                temperature_c=celsius,
            )
            for hour, celsius in points
        )

    send((0, 20), (4, 600), (10, 600), (11, 500))
    (first,) = hours(cast.kiln)
    # Of the straight line from 20 to 600 the last 100 of 580 K are above 500 °C.
    assert first == pytest.approx(4 * 100 / 580 + 6 + 1)
    send((7, 400))
    (second,) = hours(cast.kiln)
    assert second == pytest.approx(4 * 100 / 580 + 2 * 3 / 2 + 1)


def test_another_firing_adds_its_own_hours(cast, firing):
    (first,) = hours(cast.kiln)
    recorded.finished(
        kiln=cast.kiln,
        glass=cast.glass,
        starts_at=NOW + dt.timedelta(days=7),
        model=recorded.true_kiln(cast.kiln),
    )
    assert len(hours(cast.kiln)) == 2
    assert first in hours(cast.kiln)
