"""A broken thermocouple is found by what no kiln can do, and a true fall is kept."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from firing.physics.kiln.broken import ANY_KILN, pace_of, possible
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.recorded import clean_readings

HOUR_S = 3600.0
KILN = KilnModel(
    power_w=8000.0,
    max_temperature_c=950.0,
    ambient_c=20.0,
    holding_fraction=0.4,
    cooling_time_constant_s=8 * HOUR_S,
)


def fired(every_s, *, noise_k=1.0, seed=0):
    """Up to 816 °C, down to a soak, slowly down from there: three days."""
    time_s = np.arange(0.0, 72 * HOUR_S, every_s)
    kiln_c = np.interp(
        time_s / HOUR_S, [0, 12, 13, 17, 27, 72], [20, 816, 816, 482, 482, 50]
    )
    return time_s, kiln_c + np.random.default_rng(seed).normal(0, noise_k, time_s.size)


def kept(time_s, kiln_c, pace=ANY_KILN):
    return possible(time_s, kiln_c, pace, noise_k=1.0)


@pytest.mark.parametrize("every_s", [10.0, 60.0, 300.0, 600.0])
def test_a_firing_is_possible(every_s):
    assert kept(*fired(every_s)).all()


@given(
    st.sampled_from([0.0, 1.0, 1199.0]),
    st.floats(9, 65),
    st.floats(10, 600),
    st.sampled_from([30.0, 60.0, 300.0]),
)
def test_the_end_of_the_scale_is_left_out_and_nothing_else(
    reads_c, at_h, minutes, every_s
):
    """Ten minutes or ten hours at what a broken wire reads."""
    time_s, kiln_c = fired(every_s)
    wrong = (time_s >= at_h * HOUR_S) & (time_s < at_h * HOUR_S + minutes * 60)
    true_c = kiln_c[wrong]
    assume(true_c.size > 2 and np.abs(true_c - reads_c).min() > 300)
    found = kept(time_s, np.where(wrong, reads_c, kiln_c), pace_of(KILN))
    assert (found == ~wrong).all()


def test_a_fall_without_power_or_with_the_lid_open_is_true():
    time_s, kiln_c = fired(60.0)
    after_h = np.clip(time_s / HOUR_S - 20, 0, None)
    falling_c = 20 + 462 * np.exp(-after_h / 5)
    rising_c = np.interp(after_h, [3, 5], [20 + 462 * np.exp(-3 / 5), 482])
    cut_c = np.where(after_h < 3, np.minimum(kiln_c, falling_c), rising_c)
    cut = np.where((after_h > 0) & (after_h < 5), cut_c, kiln_c)
    assert kept(time_s, cut, pace_of(KILN)).all()
    opened = np.where(
        (time_s > 13 * HOUR_S) & (time_s < 17 * HOUR_S),
        np.clip(816 - 25 * (time_s - 13 * HOUR_S) / 60, 482, None),
        kiln_c,
    )
    assert kept(time_s, opened, pace_of(KILN)).all()


def test_a_thermocouple_stuck_at_its_last_value_is_left_out():
    time_s, kiln_c = fired(60.0)
    wrong = (time_s > 40 * HOUR_S) & (time_s <= 52 * HOUR_S)
    stuck_c = kiln_c[np.flatnonzero(wrong)[0] - 1]
    found = kept(time_s, np.where(wrong, stuck_c, kiln_c), pace_of(KILN))
    assert not found[wrong].any()
    assert found[~wrong].all()


def test_a_hold_before_a_broken_wire_is_no_stuck_thermocouple():
    """Whole degrees in a soak do not move either."""
    time_s, kiln_c = fired(60.0, noise_k=0.0)
    wrong = (time_s > 25 * HOUR_S) & (time_s <= 25.5 * HOUR_S)
    found = kept(time_s, np.where(wrong, 0.0, np.round(kiln_c)))
    assert (found == ~wrong).all()


def test_one_that_breaks_for_good_ends_the_record():
    time_s, kiln_c = fired(60.0)
    broke_s = 50 * HOUR_S
    record = clean_readings(time_s, np.where(time_s > broke_s, 0.0, kiln_c))
    assert record.lasts_s == broke_s
    assert record.is_broken_at_the_end
    assert record.broken_readings == np.count_nonzero(time_s > broke_s)
    (span,) = record.broken
    assert (span.start_s, span.end_s) == (broke_s, time_s[-1])
    assert span.start_c == pytest.approx(kiln_c[time_s == broke_s][0], abs=5)


def test_what_is_off_the_scale_is_counted_and_no_refusal():
    time_s, kiln_c = fired(60.0)
    wrong = (time_s > 20 * HOUR_S) & (time_s <= 20.5 * HOUR_S)
    record = clean_readings(time_s, np.where(wrong, 1372.0, kiln_c))
    assert record.broken_readings == np.count_nonzero(wrong)
    assert record.curve.temperature_c.max() < 830
    assert not record.is_broken_at_the_end


def test_a_sound_record_has_nothing_broken():
    record = clean_readings(*fired(60.0))
    assert (record.broken, record.broken_readings) == ((), 0)


@pytest.mark.parametrize(("step_k", "least_k"), [(1.0, 0.5), (5.0, 2.5)])
def test_whole_degrees_are_in_the_doubt(step_k, least_k):
    time_s, kiln_c = fired(60.0, noise_k=0.0)
    rounded = clean_readings(time_s, np.round(kiln_c / step_k) * step_k)
    assert rounded.doubt_k >= 0.7 + least_k
    assert clean_readings(time_s, kiln_c).doubt_k < 1.0


@given(st.floats(500, 5000), st.floats(1, 20))
def test_a_kiln_rises_no_faster_than_its_power_lets_it(power_w, tau_h):
    kiln = KilnModel(
        power_w=power_w,
        max_temperature_c=950.0,
        ambient_c=20.0,
        holding_fraction=0.4,
        cooling_time_constant_s=tau_h * HOUR_S,
    )
    at_full_power = power_w / (kiln.loss_w_per_k * kiln.cooling_time_constant_s)
    assert pace_of(kiln).rise_k_per_s <= ANY_KILN.rise_k_per_s
    assert pace_of(kiln).rise_k_per_s >= min(at_full_power, ANY_KILN.rise_k_per_s)
