"""The designer's drawing: which programmes are drawn, and which with a band."""

import re
from dataclasses import replace

import pytest

from firing.schedules.selectors.design_charts import MOST_CURVES, charts_of_design
from firing.schedules.selectors.stress import designed, request_of
from firing.schedules.selectors.what_if import power_cut
from firing.schedules.selectors.zoom import WHOLE
from tests import plain
from tests.make import NOW

HOUR_S = 3600.0


@pytest.fixture(scope="module")
def design():
    request = request_of(
        kind="full fuse",
        thickness_mm=27.0,
        glass=plain.glass(),
        kiln=plain.kiln(),
        is_dammed=True,
    )
    return designed(request)


@pytest.fixture(scope="module")
def cut(design):
    return power_cut(design, plain.viewer(), at_s=30 * HOUR_S)


def drawn(design, *, cut=None, **more):
    return charts_of_design(
        design,
        glass=plain.glass(),
        cut=cut,
        viewer=plain.viewer(),
        starts_at=NOW,
        **more,
    )


def bands(found):
    return [bool(line.band_path) for line in found.tension.lines]


def test_the_proposed_schedule_comes_first_and_alone_has_a_band(design):
    found = drawn(design)
    names = [line.name for line in found.tension.lines]
    assert len(names) == 1 + len(design.compared) == MOST_CURVES
    assert names[0] == found.wide.planned_name
    assert [one.name for one in found.wide.compared] == names[1:]
    assert bands(found) == [True, False, False, False]


def test_a_power_cut_comes_second_with_a_band_and_the_last_gives_way(design, cut):
    whole, found = drawn(design), drawn(design, cut=cut)
    names = [line.name for line in found.tension.lines]
    kept = [line.name for line in whole.tension.lines][1:-1]
    assert names == [whole.wide.planned_name, "With the power cut", *kept]
    assert bands(found) == [True, True, False, False]


def test_the_drawing_lasts_as_long_as_the_longest_of_them(design):
    found = drawn(design)
    every = (design.proposed, *design.compared)
    assert found.lasts_s == max(one.curve.lasts_s for one in every)
    assert (found.wide.from_s, found.part) == (0, WHOLE)
    few = replace(design, compared=design.compared[:1])
    assert len(drawn(few).tension.lines) == 2


def test_a_part_of_it_is_the_part_of_the_proposed_schedule(design):
    found = drawn(design, part="soak")
    labels = [one.label for one in design.proposed.schedule.segments]
    place = labels.index("anneal soak")
    ends_s = design.proposed.curve.segment_ends_s
    assert found.part == "soak"
    assert found.wide.from_s < ends_s[place] < found.wide.to_s
    assert ends_s[place - 1] - found.wide.from_s <= HOUR_S
    assert found.narrow.from_s == found.wide.from_s


def test_the_limits_drawn_are_those_of_the_request(design):
    limits = replace(design.request.limits, temporary_pa=2e6)
    other = replace(design, request=replace(design.request, limits=limits))
    words = drawn(other).tension.limit.words
    assert re.search(r"\b2\b", words)
    assert drawn(design).tension.limit.words != words


def test_a_schedule_computed_without_its_course_cannot_be_drawn(design):
    band = replace(
        design.proposed.band, middle=replace(design.proposed.band.middle, trace=None)
    )
    blind = replace(design, proposed=replace(design.proposed, band=band))
    with pytest.raises(ValueError, match="without its course over time"):
        drawn(blind)
