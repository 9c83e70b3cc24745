"""Which kilns are meant by their size, and which days are looked at."""

import datetime as dt

import pytest

from firing.kiln_time.selectors.bookings import HORIZON
from firing.kiln_time.selectors.free_spans import (
    MOST_SHOWN,
    Search,
    Size,
    find_free,
    kilns_meant,
)
from firing.kiln_time.selectors.occupancy import LOOK_AHEAD
from studio.errors import Refused
from tests import make
from tests.firing import build
from tests.make import NOW

HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)


@pytest.fixture
def find(cast):
    def found(*, kilns=None, hours=5.0, **changes):
        asked = {
            "lasts_s": None if hours is None else hours * 3600,
            "kiln": None,
            "size": Size.ANY,
            "view": None,
            "not_before": None,
            "before": None,
            "only_in_hours": False,
        }
        search = Search(**(asked | changes))
        return find_free(kilns or [cast.kiln], search, viewer=cast.viewer(), now=NOW)

    return found


def test_a_size_means_every_kiln_with_that_very_shelf(cast):
    def kiln(width, depth):
        return make.kiln(studio=cast.studio, shelf_width_mm=width, shelf_depth_mm=depth)

    small, turned, large = kiln(300, 200), kiln(200, 300), kiln(500, 400)
    kilns = [small, large, turned]
    assert kilns_meant(kilns, Size.ANY) == kilns
    assert kilns_meant(kilns, Size.SMALL) == [small, turned]
    assert kilns_meant(kilns, Size.LARGE) == [large]
    assert kilns_meant([], Size.LARGE) == []


def test_a_free_kiln_is_free_from_now_on_with_no_end(cast, find):
    (row,) = find().rows
    assert (row.starts_at, row.lasts_s, row.free_until) == (NOW, 5 * 3600, None)


def test_a_gap_counts_if_it_is_just_long_enough(cast, find):
    build.booking(kiln=cast.kiln, starts_at=NOW + 5 * HOUR, hours=2, title="Rent")
    first, then = find().rows
    assert (first.starts_at, first.free_until) == (NOW, NOW + 5 * HOUR)
    assert first.next_title == "Rent"
    assert then.starts_at == NOW + 7 * HOUR
    (only,) = find(hours=5.25).rows
    assert only.starts_at == NOW + 7 * HOUR


def test_rows_come_by_start_and_then_by_kiln(cast, find):
    second = make.kiln(studio=cast.studio, name="Avocet")
    third = make.kiln(studio=cast.studio, name="Bittern")
    build.booking(kiln=second, starts_at=NOW, hours=2)
    rows = find(kilns=[third, second, cast.kiln]).rows
    assert [str(row.kiln) for row in rows] == ["Bittern", str(cast.kiln), "Avocet"]


def test_no_more_are_shown_than_can_be_read(cast, find):
    for n in range(MOST_SHOWN + 2):
        build.booking(kiln=cast.kiln, starts_at=NOW + (2 + 10 * n) * HOUR, hours=1)
    assert len(find().rows) == MOST_SHOWN


def test_a_kiln_that_is_full_says_so(cast, find):
    build.booking(kiln=cast.kiln, starts_at=NOW, hours=24 * 10)
    day = (NOW + 9 * DAY).date()
    found = find(before=day)
    assert found.rows == ()
    assert found.reasons == (f"{cast.kiln} is not free for 5 h in that time.",)


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({"hours": None}, "Say how long"),
        ({"before": NOW.date()}, "Those days are past"),
        (
            {"not_before": NOW.date() + 5 * DAY, "before": NOW.date() + 5 * DAY},
            "The first day must come before the last",
        ),
        (
            {"not_before": (NOW + LOOK_AHEAD + DAY).date()},
            "looked for within a year",
        ),
    ],
)
def test_days_that_make_no_sense_are_refused(find, asked, told):
    with pytest.raises(Refused, match=told):
        find(**asked)


def test_past_half_a_year_the_search_goes_on_for_a_year(cast, find):
    day = (NOW + HORIZON + 2 * DAY).date()
    (row,) = find(not_before=day).rows
    assert row.starts_at.astimezone(cast.viewer().zone).date() == day
