"""The sentences beside a booking: how full it is first, then what is late."""

import datetime as dt

import pytest

from firing.kiln_time.selectors.at_risk import AT_RISK, LATE, Risk
from firing.kiln_time.selectors.booking_notes import notes_of
from firing.kiln_time.selectors.bookings import bookings
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
START = NOW + 24 * HOUR


@pytest.fixture
def shelf(cast):
    """An enamel firing of two sheets of 300 by 200 mm on a shelf of 560 by 560."""
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=START)
    return bookings(cast.studio).get(pk=firing.booking_id)


def told(cast, asked, **more):
    return notes_of(asked, viewer=cast.viewer(), now=NOW, **more)


def test_nothing_is_said_of_no_bookings(cast, shelf):
    assert told(cast, []) == {}


def test_the_shelf_comes_before_what_is_late(cast, shelf):
    late = Risk(flag=LATE, words="Ebb is late.", bookings=(shelf.pk,))
    near = Risk(flag=AT_RISK, words="Ebb is close.", bookings=(shelf.pk,))
    assert told(cast, [shelf], found=[late, near])[shelf.pk] == [
        "38 % of the shelf is used.",
        "Ebb is late.",
        "Ebb is close.",
    ]


def test_a_risk_is_told_beside_each_booking_that_was_asked_for(cast, shelf):
    rental = build.booking(kiln=cast.kiln, starts_at=START + 48 * HOUR)
    about_both = Risk(flag=LATE, words="Too close.", bookings=(shelf.pk, rental.pk))
    assert told(cast, [rental], found=[about_both]) == {rental.pk: ["Too close."]}


def test_a_booking_without_anything_to_say_has_no_entry(cast):
    rental = build.booking(kiln=cast.kiln, starts_at=START)
    elsewhere = Risk(flag=LATE, words="Something else.", bookings=(rental.pk + 1,))
    assert told(cast, [rental], found=[elsewhere]) == {}


def test_loads_and_risks_are_read_where_they_are_not_given(cast, shelf):
    later = notes_of([shelf], viewer=cast.viewer(), now=START + 2 * HOUR)
    full, late = later[shelf.pk]
    assert full == "38 % of the shelf is used."
    assert "is not started" in late
