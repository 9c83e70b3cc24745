"""A kiln that lost power is called out, one that did not is not: by the kiln model."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.kiln.drift import Drift, drift, pace_of
from firing.physics.kiln.fit import RecordedFiring
from firing.physics.kiln.model import KilnModel, follow
from firing.physics.schedule import Programme, Segment

MAX_C, ROOM_C, TAU_S = 927.0, 20.0, 7 * 3600.0
# Heats faster than the kiln can, falls freely, anneals, falls to nearly cold.
FUSE = Programme(
    start_c=ROOM_C,
    segments=tuple(
        Segment(label="step", rate_c_per_h=rate, target_c=target, hold_s=hold_s)
        for rate, target, hold_s in (
            (60, 540, 1800),
            (600, 815, 900),
            (None, 482, 3600),
            (40, 60, 0),
        )
    ),
)


def paces(rng, count, *, power=1.0, tau_s=TAU_S, schedule=FUSE):
    """Fire a kiln some times, its loads a little different, its readings noisy."""
    found = []
    for load in rng.normal(1.0, 0.015, count):
        # C/UA grows with the load; P/UA, what full power holds, does not.
        model = KilnModel(
            power_w=9000.0,
            max_temperature_c=MAX_C,
            ambient_c=ROOM_C,
            holding_fraction=0.45 / power,
            cooling_time_constant_s=tau_s * load,
        )
        run = follow(schedule, model, until_c=50.0, step_s=60)
        times = np.arange(0.0, run.time_s[-1], 300.0)
        shown_c = np.interp(times, run.time_s, run.temperature_c)
        shown_c = np.rint(shown_c + rng.normal(0, 0.8, times.size))
        pace = pace_of(
            RecordedFiring(time_s=times, temperature_c=shown_c, schedule=schedule),
            max_temperature_c=MAX_C,
            ambient_c=ROOM_C,
        )
        assert pace is not None
        found.append(pace)
    return found


def heating(before, after):
    return drift(
        [one.heats_k_per_s for one in before], [one.heats_k_per_s for one in after]
    )


def cooling(before, after):
    return drift(
        [one.cooling_time_constant_s for one in before],
        [one.cooling_time_constant_s for one in after],
    )


@pytest.mark.parametrize("seed", range(6))
def test_calls_out_a_kiln_that_lost_8_per_cent_of_its_power(seed):
    rng = np.random.default_rng(seed)
    found = heating(paces(rng, 6), paces(rng, 6, power=0.92))
    assert found.is_sure
    assert found.change == pytest.approx(-0.08, abs=0.03)
    assert (found.before, found.after) == (6, 6)


@pytest.mark.parametrize("seed", range(6))
def test_lets_an_unchanged_kiln_alone(seed):
    rng = np.random.default_rng(100 + seed)
    before, after = paces(rng, 6), paces(rng, 6)
    assert not heating(before, after).is_sure
    assert not cooling(before, after).is_sure


def test_calls_out_a_worn_seal_by_the_cooling():
    rng = np.random.default_rng(7)
    found = cooling(paces(rng, 6), paces(rng, 6, tau_s=0.85 * TAU_S))
    assert found.is_sure
    assert found.change == pytest.approx(-0.15, abs=0.03)


def test_knows_no_power_of_a_kiln_that_kept_up():
    gentle = Programme(
        start_c=ROOM_C,
        segments=(
            Segment(label="up", rate_c_per_h=50, target_c=590, hold_s=600),
            Segment(label="down", rate_c_per_h=None, target_c=60, hold_s=0),
        ),
    )
    (one,) = paces(np.random.default_rng(1), 1, schedule=gentle)
    assert one.heats_k_per_s is None
    assert one.cooling_time_constant_s == pytest.approx(TAU_S, rel=0.08)


def test_says_nothing_of_readings_that_never_fall():
    times = np.arange(0.0, 36000.0, 300.0)
    flat = RecordedFiring(time_s=times, temperature_c=np.full(times.size, 500.0))
    assert pace_of(flat, max_temperature_c=MAX_C, ambient_c=ROOM_C) is None


def test_wants_four_firings_a_side():
    assert drift([1.0] * 3, [0.5] * 9) is None
    assert drift([1.0] * 9, [0.5] * 3) is None
    assert drift([1.0] * 4, [0.5] * 4).is_sure


def test_one_odd_firing_changes_nothing():
    assert not drift([1.0, 1.01, 0.99, 1.0, 1.0], [1.0, 1.01, 0.2, 1.0, 0.99]).is_sure


@given(
    st.lists(st.floats(0.1, 10), min_size=4, max_size=12),
    st.lists(st.floats(0.1, 10), min_size=4, max_size=12),
    st.floats(0.01, 100),
)
def test_needs_no_unit_and_no_order(before, after, unit):
    found = drift(before, after)
    other = drift([unit * v for v in reversed(before)], [unit * v for v in after])
    assert isinstance(found, Drift)
    assert other.change == pytest.approx(found.change, rel=1e-6, abs=1e-9)
    assert other.error == pytest.approx(found.error, rel=1e-6)


@given(st.lists(st.floats(0.1, 10), min_size=4, max_size=12))
def test_finds_no_change_between_the_same_values(values):
    assert not drift(values, values).is_sure


def test_is_seldom_sure_without_cause():
    rng = np.random.default_rng(3)
    false = sum(
        drift(rng.normal(1, 0.03, 6), rng.normal(1, 0.03, 6)).is_sure
        for _ in range(2000)
    )
    # Three standard errors each way, wider for so few firings.
    assert false / 2000 < 0.03
