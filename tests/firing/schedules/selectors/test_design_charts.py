"""The designer's drawing: which programmes are drawn, and which with a band."""

import re
from dataclasses import replace

import pytest

from firing.physics.limits import Limits
from firing.schedules.selectors.design_charts import MOST_CURVES, charts_of_design
from firing.schedules.selectors.designer import DesignerInput, tried
from firing.schedules.selectors.zoom import WHOLE
from tests import plain
from tests.make import NOW

HOUR_S = 3600.0


RULES = ("row", "next row", "exact")


@pytest.fixture(scope="module")
def found_by():
    """Return a function that designs a schedule and tries what may go wrong."""

    def look(**changes):
        asked = DesignerInput(
            kind="full fuse",
            thickness_mm=27.0,
            glass=plain.glass(),
            kiln=plain.kiln(),
            is_dammed=True,
            **changes,
        )
        return tried(asked, viewer=plain.viewer())

    return look


@pytest.fixture(scope="module")
def plainly(found_by):
    return found_by()


def drawn(found, rules=RULES, **more):
    return charts_of_design(
        found, rules=rules, viewer=plain.viewer(), starts_at=NOW, **more
    )


def bands(found):
    return [bool(line.band_path) for line in found.tension.lines]


def test_the_chosen_schedule_comes_first_and_alone_has_a_band(plainly, found_by):
    found = drawn(plainly)
    names = [line.name for line in found.tension.lines]
    assert len(names) == MOST_CURVES
    assert names[0] == found.wide.planned_name == "Computed design"
    assert [one.name for one in found.wide.compared] == names[1:]
    assert bands(found) == [True, False, False, False]
    exact = drawn(found_by(rule="exact"), ("computed",))
    assert exact.wide.planned_name == "Exact thickness"
    assert [one.name for one in exact.wide.compared] == ["Computed design"]


def test_a_power_cut_is_drawn_with_nothing_else(found_by):
    found = drawn(found_by(is_cut=True, cut_at_h=30))
    names = [line.name for line in found.tension.lines]
    assert names == ["Computed design", "With the power cut"]
    assert bands(found) == [True, True]


def test_the_drawing_lasts_as_long_as_the_longest_of_them(plainly):
    found = drawn(plainly)
    assert found.lasts_s == max(one.curve.lasts_s for one in plainly.every.values())
    assert (found.wide.from_s, found.part) == (0, WHOLE)
    assert len(drawn(plainly, ("row",)).tension.lines) == 2


def test_a_part_of_it_is_the_part_of_the_chosen_schedule(plainly):
    found = drawn(plainly, part="soak")
    labels = [one.label for one in plainly.chosen.schedule.segments]
    place = labels.index("anneal soak")
    ends_s = plainly.chosen.curve.segment_ends_s
    assert found.part == "soak"
    assert found.wide.from_s < ends_s[place] < found.wide.to_s
    assert ends_s[place - 1] - found.wide.from_s <= HOUR_S
    assert found.narrow.from_s == found.wide.from_s


def test_the_limits_drawn_are_those_of_the_request(plainly, found_by):
    words = drawn(found_by(limits=Limits(temporary_pa=2e6))).tension.limit.words
    assert re.search(r"\b2\b", words)
    assert drawn(plainly).tension.limit.words != words


def test_a_schedule_computed_without_its_course_cannot_be_drawn(plainly):
    middle = replace(plainly.chosen.band.middle, trace=None)
    blind = replace(plainly.chosen, band=replace(plainly.chosen.band, middle=middle))
    with pytest.raises(ValueError, match="without its course over time"):
        drawn(replace(plainly, chosen=blind))
