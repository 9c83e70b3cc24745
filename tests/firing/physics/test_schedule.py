"""Programmes: the curve they ask for, and what a controller can be told."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from firing.physics.schedule import (
    PhysicsProblem,
    Programme,
    Segment,
    duration_s,
    fit_to_controller,
    planned_curve,
)
from studio.units import TemperatureUnit, celsius_to_fahrenheit

C, F = TemperatureUnit.C, TemperatureUnit.F


def segment(rate, target, hold=0.0, label="step"):
    return Segment(label=label, rate_c_per_h=rate, target_c=target, hold_s=hold)


FUSE = Programme(
    start_c=20,
    segments=(
        segment(100, 620, 3600, "bubble squeeze"),
        segment(150, 815, 900, "full fuse"),
        segment(None, 482, 7200, "anneal soak"),
        segment(55, 427, 0, "cooling 1"),
        segment(99, 371, 0, "cooling 2"),
        segment(330, 50, 0, "final cooling"),
    ),
)


def fit(schedule=FUSE, **changes):
    settings = {
        "unit": C,
        "segments_available": 8,
        "slowest_c_per_h": 1.0,
        "fastest_c_per_h": 1000.0,
    }
    return fit_to_controller(schedule, **(settings | changes))


def test_the_planned_curve_by_hand():
    curve = planned_curve(FUSE, fastest_c_per_h=333)
    hours = np.cumsum([0, 6, 1, 1.3, 0.25, 1, 2, 1, 56 / 99, 321 / 330])
    assert curve.time_s == pytest.approx(hours * 3600)
    assert list(curve.temperature_c) == [20, 620, 620, 815, 815, 482, 482, 427, 371, 50]
    assert duration_s(FUSE, 333) == pytest.approx(hours[-1] * 3600)
    assert (FUSE.peak_c, FUSE.end_c) == (815, 50)


def test_a_rate_past_the_fastest_is_drawn_at_the_fastest():
    schedule = Programme(start_c=0, segments=(segment(400, 400),))
    assert duration_s(schedule, 100) == pytest.approx(4 * 3600)
    assert duration_s(schedule, 1000) == pytest.approx(3600)


@given(
    st.lists(
        st.tuples(
            st.one_of(st.none(), st.floats(0.1, 900)),
            st.floats(20, 900),
            st.floats(0, 1e5),
        ),
        min_size=1,
        max_size=9,
    )
)
def test_time_never_runs_back_and_no_part_is_faster_than_asked(steps):
    schedule = Programme(start_c=20, segments=tuple(segment(*step) for step in steps))
    curve = planned_curve(schedule, 1000)
    assert np.all(np.diff(curve.time_s) >= 0)
    assert curve.temperature_c[-1] == schedule.end_c
    assert curve.time_s[-1] >= sum(step[2] for step in steps) * (1 - 1e-12)


@pytest.mark.parametrize("rate", [0, -5, math.nan, math.inf])
def test_a_rate_that_is_none_is_refused(rate):
    with pytest.raises(PhysicsProblem, match="a rate is above zero"):
        segment(rate, 500)


@pytest.mark.parametrize("target", [-51, 1701, math.nan, math.inf])
def test_a_target_no_kiln_has_is_refused(target):
    with pytest.raises(PhysicsProblem, match="kilns are between"):
        segment(10, target)
    with pytest.raises(PhysicsProblem, match="The start"):
        Programme(start_c=target, segments=(segment(10, 500),))


@pytest.mark.parametrize("hold", [-1, math.nan, math.inf, 4e7])
def test_a_hold_that_is_none_is_refused(hold):
    with pytest.raises(PhysicsProblem, match="a hold is zero or more"):
        segment(10, 500, hold)


def test_an_empty_schedule_is_refused():
    with pytest.raises(PhysicsProblem, match="at least one segment"):
        Programme(start_c=20, segments=())


@pytest.mark.parametrize("fastest", [0, -1, math.nan, math.inf])
def test_a_fastest_rate_that_is_none_is_refused(fastest):
    with pytest.raises(PhysicsProblem, match="fastest rate"):
        planned_curve(FUSE, fastest)


def test_a_whole_programme_fits_unchanged():
    assert fit() == FUSE


def test_what_a_fahrenheit_controller_is_told():
    fitted = fit(unit=F)
    told = [
        (
            round(celsius_to_fahrenheit(part.target_c), 9),
            part.rate_c_per_h and round(part.rate_c_per_h * 1.8, 9),
            part.hold_s / 60,
        )
        for part in fitted.segments
    ]
    # 815 °C is 1499 °F; 482 is 899.6, held, so the nearest: 900; 427 is 800.6 and
    # 371 is 699.8, passed while cooling, so the colder; 55 °C/h is 99 °F/h.
    assert told == [
        (1148, 180, 60),
        (1499, 270, 15),
        (900, None, 120),
        (800, 99, 0),
        (699, 178, 0),
        (122, 594, 0),
    ]


STEP = st.tuples(
    st.one_of(st.none(), st.floats(2.5, 900)), st.floats(20, 900), st.floats(0, 1e5)
)


@given(
    st.lists(STEP, min_size=1, max_size=8),
    st.sampled_from(TemperatureUnit),
    st.sampled_from([1.0, 0.1]),
)
def test_rounding_is_to_the_safe_side_and_no_more_than_a_step(steps, unit, rate_step):
    schedule = Programme(start_c=20, segments=tuple(segment(*step) for step in steps))
    fitted = fit(schedule, unit=unit, rate_step=rate_step)
    degree_c = 1.0 if unit is C else 1 / 1.8
    before = schedule.start_c
    for asked, told in zip(schedule.segments, fitted.segments, strict=True):
        shown = told.target_c if unit is C else celsius_to_fahrenheit(told.target_c)
        assert shown == pytest.approx(round(shown), abs=1e-9)
        assert abs(told.target_c - asked.target_c) <= degree_c
        if asked.hold_s:
            assert abs(told.target_c - asked.target_c) <= degree_c / 2 + 1e-9
        assert asked.hold_s - 1e-3 <= told.hold_s < asked.hold_s + 60
        assert told.hold_s % 60 == 0
        if asked.rate_c_per_h is None:
            assert told.rate_c_per_h is None
        elif asked.target_c != before:
            assert told.rate_c_per_h <= asked.rate_c_per_h + 1e-5
            assert told.rate_c_per_h > asked.rate_c_per_h - rate_step * degree_c - 1e-5
            steps_told = told.rate_c_per_h / degree_c / rate_step
            assert steps_told == pytest.approx(round(steps_told), abs=1e-6)
        before = asked.target_c


@given(st.lists(STEP, min_size=1, max_size=8), st.sampled_from(TemperatureUnit))
def test_what_fits_once_fits_again_unchanged(steps, unit):
    schedule = Programme(start_c=20, segments=tuple(segment(*step) for step in steps))
    once = fit(schedule, unit=unit)
    previous = [20, *(part.target_c for part in once.segments)]
    # A ramp that rounding turned into a hold has no rate to round any more.
    assume(all(a != b for a, b in pairwise(previous)))
    twice = fit(once, unit=unit)
    for one, two in zip(once.segments, twice.segments, strict=True):
        assert two.target_c == pytest.approx(one.target_c, abs=1e-9)
        assert two.hold_s == one.hold_s
        assert (two.rate_c_per_h or 0) == pytest.approx(one.rate_c_per_h or 0, abs=1e-9)


def test_a_finer_step_keeps_more_of_a_slow_rate():
    slow = Programme(start_c=482, segments=(segment(1.7, 427),))
    assert fit(slow).segments[0].rate_c_per_h == 1
    finer = fit(slow, rate_step=0.1, slowest_c_per_h=0.1)
    assert finer.segments[0].rate_c_per_h == pytest.approx(1.7)
    fahrenheit = fit(slow, unit=F, slowest_c_per_h=0.5)
    assert fahrenheit.segments[0].rate_c_per_h == pytest.approx(3 / 1.8)


def test_too_few_segments_are_refused_in_words():
    with pytest.raises(
        PhysicsProblem, match="has 6 segments and the controller takes 5"
    ):
        fit(segments_available=5)


@pytest.mark.parametrize(
    ("rate", "unit", "slowest", "words"),
    [
        (0.94, C, 0.5, "needs 0.94 °C/h, and the slowest .* is 1 °C/h"),
        (4.5, C, 4.2, "needs 4.5 °C/h, and the slowest .* is 5 °C/h"),
        (0.42, F, 0.1, "needs 0.42 °C/h, and the slowest .* is 0.56 °C/h"),
    ],
)
def test_a_rate_slower_than_the_controller_takes_is_refused(rate, unit, slowest, words):
    schedule = Programme(start_c=482, segments=(segment(rate, 427, 0, "cooling 1"),))
    with pytest.raises(PhysicsProblem, match=words):
        fit(schedule, unit=unit, slowest_c_per_h=slowest)


def test_a_rate_past_the_controllers_fastest_becomes_its_fastest():
    assert fit(fastest_c_per_h=80.5).segments[0].rate_c_per_h == 80


def test_a_rate_that_is_never_used_stops_nobody():
    schedule = Programme(
        start_c=20, segments=(segment(None, 500), segment(0.1, 500, 90))
    )
    assert fit(schedule).segments[1].hold_s == 120


@pytest.mark.parametrize(
    "changes", [{"slowest_c_per_h": 0}, {"slowest_c_per_h": 2000}, {"rate_step": 0}]
)
def test_a_controller_that_cannot_be_is_refused(changes):
    with pytest.raises(PhysicsProblem, match="slowest rate is above zero"):
        fit(**changes)
