"""A programme as a table: for whoever reads it, and as a controller is told."""

import pytest

from firing.models import ScheduleRule
from firing.physics.schedule import Programme, Segment
from firing.schedules.selectors.tables import RULE_WORDS, programme_rows
from tests import make

PROGRAMME = Programme(
    start_c=20,
    segments=(
        Segment(label="heat up", rate_c_per_h=100, target_c=800, hold_s=600),
        Segment(label="drop", rate_c_per_h=None, target_c=482, hold_s=2 * 3600 + 29),
        Segment(label="cool", rate_c_per_h=20, target_c=50),
    ),
)


def test_a_reader_of_celsius_types_fahrenheit_into_such_a_controller(strangers):
    heat, drop, cool = programme_rows(PROGRAMME, strangers.kiln, strangers.viewer())
    assert (heat.rate, heat.target, heat.hold) == ("100 °C/h", "800 °C", "10 min")
    assert (heat.typed_rate, heat.typed_target) == ("180 °F/h", "1472 °F")
    assert heat.typed_hold == "0:10"
    assert (drop.rate, drop.typed_rate) == ("as fast as it can", "full")
    assert (cool.hold, cool.typed_hold) == ("none", "0:00")
    assert [row.number for row in (heat, drop, cool)] == [1, 2, 3]


@pytest.mark.parametrize(
    ("hold_s", "typed"),
    [
        (29, "0:00"),
        (31, "0:01"),
        (3599, "1:00"),
        (7200 + 65, "2:01"),
        (360_000, "100:00"),
    ],
)
def test_a_hold_is_typed_in_hours_and_whole_minutes(strangers, hold_s, typed):
    held = Programme(
        start_c=20,
        segments=(
            Segment(label="hold", rate_c_per_h=100, target_c=500, hold_s=hold_s),
        ),
    )
    (row,) = programme_rows(held, None, strangers.viewer())
    assert row.typed_hold == typed


def test_without_a_kiln_the_reader_types_their_own_degrees_and_no_end_is_known(
    strangers,
):
    rows = programme_rows(PROGRAMME, None, strangers.viewer())
    assert [row.typed_target for row in rows] == ["800 °C", "482 °C", "50 °C"]
    assert {row.ends_after for row in rows} == {""}


def test_a_kiln_says_when_each_segment_ends(strangers):
    kiln = make.kiln(studio=strangers.studio)
    rows = programme_rows(PROGRAMME, kiln, strangers.viewer())
    # 780 degrees at 100 an hour and ten minutes there.
    assert rows[0].ends_after == "7 h 58 min"
    assert all(row.ends_after for row in rows)


def test_every_rule_has_words():
    assert set(RULE_WORDS) == set(ScheduleRule)
