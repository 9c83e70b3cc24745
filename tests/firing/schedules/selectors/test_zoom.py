"""Which part of a firing a chart shows: by name, by two moments, or all of it."""

import pytest

from firing.physics.schedule import Programme, Segment
from firing.schedules.selectors.zoom import WHOLE, parts_of, window_of, zooms_of

HEAT = Segment(label="heat up", rate_c_per_h=100, target_c=800)
SOAK = Segment(label="anneal soak", rate_c_per_h=None, target_c=482, hold_s=7200)
COOL = Segment(label="cool", rate_c_per_h=20, target_c=50)
PARTS = {WHOLE: None, "soak": (100.0, 900.0)}


def parts(*segments, ends_s, starts_s=600.0):
    programme = Programme(start_c=20, segments=segments)
    return parts_of(programme, ends_s, starts_s=starts_s, lasts_s=90_000.0)


def test_a_fuse_is_heated_soaked_with_half_an_hour_round_it_and_cooled():
    assert parts(HEAT, SOAK, COOL, ends_s=(30_000.0, 40_000.0, 80_000.0)) == {
        WHOLE: None,
        "heating": (0.0, 30_000.0),
        "soak": (40_000.0 - 7200 - 1800, 40_000.0 + 1800),
        "cooling": (40_000.0, 90_000.0),
    }


def test_a_firing_that_begins_with_its_soak_has_no_heating_and_shows_nothing_before():
    found = parts(SOAK, COOL, ends_s=(8000.0, 80_000.0))
    assert "heating" not in found
    assert found["soak"] == (600.0, 9800.0)


def test_a_firing_without_a_soak_is_only_shown_whole():
    assert parts(HEAT, COOL, ends_s=(30_000.0, 80_000.0)) == {WHOLE: None}


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ("soak", ("soak", (100.0, 900.0))),
        (WHOLE, (WHOLE, None)),
        ("3600-4200", ("3600-4200", (3600.0, 4200.0))),
        ("3600-4199", (WHOLE, None)),
        ("4200-3600", (WHOLE, None)),
        ("9000-99999999", ("9000-99999999", (9000.0, 10_000.0))),
        ("20000-30000", (WHOLE, None)),
        ("-5-9000", (WHOLE, None)),
        ("cooling", (WHOLE, None)),
    ],
)
def test_what_no_part_is_called_and_what_is_too_short_is_the_whole(asked, expected):
    assert window_of(asked, PARTS, lasts_s=10_000.0) == expected


def test_the_links_keep_the_rest_of_the_address_and_mark_the_one_shown():
    whole, soak = zooms_of(PARTS, "soak", kept="rule=row&", anchor="curve")
    assert soak.href == "?rule=row&part=soak#curve"
    assert (whole.current, soak.current) == (False, True)
