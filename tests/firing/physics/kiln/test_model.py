"""The kiln model against closed forms of its own linear equation, worked out here."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.physics.kiln.model import KilnModel, follow
from firing.physics.schedule import PhysicsProblem, Programme, Segment

TAU_S = 8 * 3600.0


def kiln(**changes):
    values = {
        "power_w": 9000.0,
        "max_temperature_c": 950.0,
        "ambient_c": 20.0,
        "holding_fraction": 0.45,
        "cooling_time_constant_s": TAU_S,
    }
    return KilnModel(**(values | changes))


def programme(*steps, start_c=20.0):
    return Programme(
        start_c=start_c,
        segments=tuple(
            Segment(label="step", rate_c_per_h=rate, target_c=target, hold_s=hold)
            for rate, target, hold in steps
        ),
    )


def lost_j(run, model):
    """Integrate UA (T - Ta) over a run, from its points alone.

    In each step T is an exponential towards some limit with the kiln's time constant;
    its two ends give the limit, and the integral is limit dt + (T0 - limit) tau (1 - e).
    """
    step_s = np.diff(run.time_s)
    began, ended = run.temperature_c[:-1], run.temperature_c[1:]
    rest = -np.expm1(-step_s / model.cooling_time_constant_s)
    limit = began + (ended - began) / rest
    above = (limit - model.ambient_c) * step_s + (
        began - limit
    ) * model.cooling_time_constant_s * rest
    return float(np.sum(above)) * model.loss_w_per_k


STEPS = st.lists(
    st.tuples(
        st.one_of(st.none(), st.floats(2, 900)),
        st.floats(40, 900),
        st.floats(0, 20_000),
    ),
    min_size=1,
    max_size=6,
)


def heat_capacity_j_per_k(model):
    """C = UA tau."""
    return model.loss_w_per_k * model.cooling_time_constant_s


@given(STEPS, st.floats(7, 600))
@settings(max_examples=60, deadline=None)
def test_electricity_in_is_heat_stored_and_heat_lost(steps, step_s):
    model = kiln()
    run = follow(programme(*steps), model, until_c=35, step_s=step_s)
    stored_j = heat_capacity_j_per_k(model) * (run.temperature_c[-1] - 20.0)
    electrical_j = run.energy_kwh * 3.6e6
    assert electrical_j == pytest.approx(stored_j + lost_j(run, model), rel=1e-6)


def test_constants_of_a_kiln():
    model = kiln()
    assert model.loss_w_per_k == pytest.approx(0.45 * 9000 / 930)
    assert model.full_power_holds_c == pytest.approx(20 + 930 / 0.45)


def test_natural_cooling_is_the_exponential():
    run = follow(programme((None, 50, 0), start_c=800), kiln(), until_c=50)
    expected = 20 + 780 * np.exp(-run.time_s / TAU_S)
    assert np.max(np.abs(run.temperature_c - expected)) < 1e-9
    assert run.ready_s == pytest.approx(TAU_S * math.log(780 / 30), rel=1e-12)
    assert run.energy_kwh == 0


def test_full_power_is_the_exponential_towards_its_limit():
    model = kiln()
    run = follow(programme((None, 900, 0)), model, until_c=950)
    limit = 930 / 0.45
    reach_s = TAU_S * math.log(limit / (limit - 880))
    assert run.segment_ends_s[0] == pytest.approx(reach_s, rel=1e-12)
    assert run.energy_kwh == pytest.approx(9000 * reach_s / 3.6e6, rel=1e-12)
    expected = 20 + limit * -np.expm1(-run.time_s / TAU_S)
    assert np.max(np.abs(run.temperature_c - expected)) < 1e-8


def test_a_followed_ramp_is_straight_and_costs_what_the_equation_says():
    model = kiln()
    run = follow(programme((100, 520, 3600)), model, until_c=600, step_s=10)
    on_ramp = run.time_s <= 5 * 3600
    expected = 20 + run.time_s[on_ramp] / 36
    assert np.max(np.abs(run.temperature_c[on_ramp] - expected)) < 1e-9
    # P u = C q + UA q t on the ramp, UA 500 while held; the integral by hand.
    ramp_s = 5 * 3600
    energy_j = heat_capacity_j_per_k(model) * 500 + model.loss_w_per_k * (
        500 * ramp_s / 2 + 500 * 3600
    )
    assert run.energy_kwh == pytest.approx(energy_j / 3.6e6, rel=1e-6)
    assert run.segment_lags_k == (0,)
    assert run.segment_late_s == (0,)
    assert run.segment_ends_s == (pytest.approx(6 * 3600),)


def test_holding_the_highest_temperature_takes_the_holding_fraction():
    hold_s = 3600.0
    run = follow(programme((None, 950, hold_s), start_c=949), kiln(), until_c=951)
    heating_s = run.segment_ends_s[0] - hold_s
    held_kwh = run.energy_kwh - 9 * heating_s / 3600
    assert held_kwh == pytest.approx(0.45 * 9, rel=1e-9)


def test_a_weak_kiln_falls_behind_and_says_how_far():
    model = kiln(power_w=3000, holding_fraction=0.9)
    run = follow(programme((300, 800, 0)), model, until_c=900)
    limit = 930 / 0.9
    reach_s = TAU_S * math.log(limit / (limit - 780))
    assert run.segment_ends_s[0] == pytest.approx(reach_s, rel=1e-9)
    asked_s = 780 / 300 * 3600
    assert run.segment_late_s[0] == pytest.approx(reach_s - asked_s, rel=1e-9)
    behind = 800 - (20 + limit * -math.expm1(-asked_s / TAU_S))
    assert run.segment_lags_k[0] == pytest.approx(behind, rel=1e-9)


def test_cooling_is_never_faster_than_natural():
    run = follow(programme((600, 100, 0), start_c=700), kiln(), until_c=90)
    natural = 20 + 680 * np.exp(-run.time_s / TAU_S)
    assert np.all(run.temperature_c >= natural - 1e-9)
    assert run.segment_lags_k[0] > 100
    assert run.segment_ends_s[0] == pytest.approx(TAU_S * math.log(680 / 80), rel=1e-9)


@given(STEPS, st.floats(7, 600))
@settings(max_examples=60, deadline=None)
def test_no_run_leaves_what_the_kiln_can_do(steps, step_s):
    model = kiln()
    schedule = programme(*steps)
    run = follow(schedule, model, until_c=35, step_s=step_s)
    assert np.all(np.diff(run.time_s) > 0)
    assert np.all(np.isfinite(run.temperature_c))
    assert np.max(run.temperature_c) <= max(20.0, schedule.peak_c) + 1e-6
    assert run.temperature_c[-1] == pytest.approx(35, abs=1e-9)
    assert run.ready_s == run.time_s[-1]
    assert list(run.segment_ends_s) == sorted(run.segment_ends_s)
    for (rate, target, hold), end_s, late_s in zip(
        steps, run.segment_ends_s, run.segment_late_s, strict=True
    ):
        assert np.interp(end_s, run.time_s, run.temperature_c) == pytest.approx(
            target, abs=1e-4
        )
        assert end_s >= hold * (1 - 1e-12)
        assert late_s >= 0
        assert rate is not None or late_s == 0


def test_a_finer_step_changes_nothing_that_matters():
    schedule = programme((150, 816, 900), (None, 482, 7200), (15, 427, 0), (90, 50, 0))
    coarse = follow(schedule, kiln(), until_c=50, step_s=300)
    fine = follow(schedule, kiln(), until_c=50, step_s=5)
    assert coarse.ready_s == pytest.approx(fine.ready_s, rel=1e-4)
    assert coarse.energy_kwh == pytest.approx(fine.energy_kwh, rel=1e-3)


def test_a_kiln_that_is_cold_enough_is_ready_at_once():
    run = follow(programme((100, 60, 0)), kiln(), until_c=80)
    assert run.ready_s == run.segment_ends_s[-1]


def test_a_cold_kiln_warms_to_the_room_by_itself():
    run = follow(programme((5, 100, 0), start_c=10), kiln(), until_c=120)
    assert run.temperature_c[0] == 10
    assert run.temperature_c[-1] == 100


def test_above_the_rating_is_refused():
    with pytest.raises(PhysicsProblem, match="rated to 950"):
        follow(programme((100, 960, 0)), kiln(), until_c=50)


def test_above_what_full_power_holds_is_refused():
    worn = kiln(holding_fraction=1.2)
    with pytest.raises(PhysicsProblem, match="holds this kiln at 795 °C at most"):
        follow(programme((100, 800, 0)), worn, until_c=50)
    assert follow(programme((100, 790, 0)), worn, until_c=50).segment_late_s[0] > 0


@pytest.mark.parametrize(("last_c", "until_c"), [(20, 50), (50, 20), (15, 15)])
def test_colder_than_the_room_is_refused(last_c, until_c):
    schedule = programme((None, 100, 0), (None, last_c, 0))
    with pytest.raises(PhysicsProblem, match="cannot come down to"):
        follow(schedule, kiln(), until_c=until_c)


@pytest.mark.parametrize("step_s", [0, -1, math.nan, math.inf])
def test_a_step_that_is_none_is_refused(step_s):
    with pytest.raises(PhysicsProblem, match="step"):
        follow(programme((100, 500, 0)), kiln(), until_c=50, step_s=step_s)


def test_a_run_of_endless_steps_is_refused():
    with pytest.raises(PhysicsProblem, match="longer step"):
        follow(programme((100, 500, 3e6)), kiln(), until_c=50, step_s=1)


@pytest.mark.parametrize(
    "changes",
    [
        {"power_w": 0},
        {"power_w": math.nan},
        {"holding_fraction": 0},
        {"holding_fraction": 2.5},
        {"cooling_time_constant_s": 0},
        {"max_temperature_c": 20},
        {"max_temperature_c": 1800},
        {"ambient_c": math.nan},
    ],
)
def test_a_kiln_that_cannot_be_is_refused(changes):
    with pytest.raises(PhysicsProblem, match="A kiln's"):
        kiln(**changes)
