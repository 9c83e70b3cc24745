"""Readings made fit: noise, spikes, gaps, offsets, and what is refused."""

import numpy as np
import pytest

from firing.physics.kiln.recorded import clean_readings
from firing.physics.schedule import Curve, PhysicsProblem
from tests.firing.physics.readings import sampled, without

HOUR_S = 3600.0
CURVE = Curve(
    time_s=np.array([0.0, 8, 8.25, 10, 18, 32, 60]) * HOUR_S,
    temperature_c=np.array([20.0, 816, 816, 482, 482, 427, 40]),
)


def off(record, time_s, kiln_c):
    curve = record.curve
    return np.abs(np.interp(time_s, curve.time_s, curve.temperature_c) - kiln_c)


def test_few_points_on_the_curve():
    time_s, kiln_c = sampled(CURVE)
    record = clean_readings(time_s, kiln_c)
    assert off(record, time_s, kiln_c).max() < 3  # corners are rounded by the bins
    assert record.curve.time_s.size < 30
    assert (record.readings, record.spikes, record.gaps) == (time_s.size, 0, ())
    assert record.noise_k < 0.01
    assert record.lasts_s == time_s[-1]


@pytest.mark.parametrize("every_s", [2.0, 20.0, 60.0])
def test_noise_is_estimated_and_leaves_few_points(every_s):
    time_s, noisy_c = sampled(CURVE, every_s, noise_k=1.0)
    record = clean_readings(time_s, noisy_c)
    # Uniform within 1 K has a standard deviation of 0.577 K.
    assert record.noise_k == pytest.approx(0.577, rel=0.2)
    assert record.curve.time_s.size < 500
    assert off(record, *sampled(CURVE)).max() < 4


def test_spikes_go_and_a_cut_stays():
    time_s, kiln_c = sampled(CURVE, 60.0)
    wrong = kiln_c.copy()
    wrong[[100, 700, 1500]] = [1000.0, 0.0, 60.0]
    record = clean_readings(time_s, wrong)
    assert record.spikes == 3
    assert off(record, time_s, kiln_c).max() < 3
    after_s = np.clip(time_s - 14 * HOUR_S, 0, None)
    fallen = np.where(
        (after_s > 0) & (after_s < 1800), np.maximum(kiln_c - after_s / 10, 400), kiln_c
    )
    record = clean_readings(time_s, fallen)
    assert record.spikes == 0
    assert (
        record.curve.temperature_c[record.curve.time_s < 18 * HOUR_S][-3:].min() < 450
    )


@pytest.mark.parametrize(("off_k", "spikes"), [(-25, 1), (-15, 0), (15, 0), (25, 1)])
def test_a_lone_reading_off_by_more_than_20_kelvin_is_a_spike(off_k, spikes):
    time_s, kiln_c = sampled(CURVE, 60.0)
    kiln_c[700] += off_k
    assert clean_readings(time_s, kiln_c).spikes == spikes


def test_gaps():
    time_s, kiln_c = without(*sampled(CURVE), 20 * HOUR_S, 22 * HOUR_S)
    time_s, kiln_c = without(time_s, kiln_c, 40 * HOUR_S, 40.4 * HOUR_S)
    record = clean_readings(time_s, kiln_c)
    assert [(gap.start_s, gap.end_s) for gap in record.gaps] == [
        (20 * HOUR_S, 22 * HOUR_S)
    ]
    assert clean_readings(time_s, kiln_c, longest_gap_s=3 * HOUR_S).gaps == ()
    assert len(clean_readings(time_s, kiln_c, longest_gap_s=1200).gaps) == 2


def test_offset_counts_where_it_is_hot():
    time_s, kiln_c = sampled(CURVE)
    plain, moved = (
        clean_readings(time_s, kiln_c),
        clean_readings(time_s, kiln_c, offset_k=8.0),
    )
    at_s = np.array([0.0, 14 * HOUR_S])
    rise = np.interp(at_s, moved.curve.time_s, moved.curve.temperature_c) - np.interp(
        at_s, plain.curve.time_s, plain.curve.temperature_c
    )
    assert rise == pytest.approx([0, 8], abs=0.1)


def test_start_of_the_clock_does_not_matter():
    time_s, kiln_c = sampled(CURVE)
    one, other = clean_readings(time_s, kiln_c), clean_readings(time_s + 1e9, kiln_c)
    assert other.starts_s == 1e9
    assert other.curve.time_s == pytest.approx(one.curve.time_s)


def spoiled(place, value):
    time_s, kiln_c = sampled(CURVE)
    kiln_c = kiln_c.copy()
    kiln_c[place] = value
    return time_s, kiln_c


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ((np.zeros(0), np.zeros(0)), "0 reading"),
        ((np.array([0.0]), np.array([20.0])), r"1 reading\(s\)"),
        ((np.array([0.0, 0.0]), np.array([20.0, 20.0])), "at one time"),
        (spoiled(5, np.nan), "temperature of reading 6 is no number"),
        (spoiled(5, np.inf), "temperature of reading 6 is no number"),
        ((np.array([0.0, np.nan]), np.array([20.0, 20.0])), "time of reading 2"),
        ((np.array([0.0, 10.0, 5.0]), np.full(3, 20.0)), "backwards at reading 3"),
        ((np.zeros(3), np.zeros(2)), "as many"),
        (spoiled(slice(100, 1200), 1500.0), "Check the unit"),
    ],
)
def test_refused(readings, words):
    with pytest.raises(PhysicsProblem, match=words):
        clean_readings(*readings)


def test_settings_refused():
    with pytest.raises(PhysicsProblem, match="offset"):
        clean_readings(*sampled(CURVE), offset_k=100.0)
    with pytest.raises(PhysicsProblem, match="gap"):
        clean_readings(*sampled(CURVE), longest_gap_s=0.0)
