"""Structural relaxation against closed forms and converged values.

Values marked derived were worked out for the reference and verified numerically; those
marked converged are of this very model, from two independent programs that agreed to
four digits. Neither is a measurement.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.physics.glass.families import NINETY
from firing.physics.slab.input import Accuracy
from firing.physics.slab.relaxation import decay, log_shift, reduced_time
from tests.firing.physics.slabs import HOUR_S, fired

ONE_TIME = replace(
    NINETY,
    structural_spectrum=((1.0, 1000.0),),
    reference_temperature_k=773.15,
)


@settings(deadline=None)  # the first call compiles
@given(st.floats(1e-12, 1e12))
def test_decay_and_its_means_at_any_size(y):
    left, mean, drift = decay(y)
    assert left == pytest.approx(math.exp(-y), rel=1e-13, abs=1e-19)
    assert mean == pytest.approx(-math.expm1(-y) / y, rel=1e-12)
    assert 0 <= drift <= min(y / 6, 1 / y)


@pytest.mark.parametrize("y", [0.3, 1.0, 5.0, 30.0])
def test_the_third_is_the_integral_it_is_said_to_be(y):
    u = np.linspace(0, 1, 200_001)
    integral = np.trapezoid(y * u * (1 - u) * np.exp(-y * u), u)
    assert decay(y)[2] == pytest.approx(integral, rel=1e-8)


@pytest.mark.parametrize("drift", [-30.0, -1.0, -1e-5, 0.0, 1e-5, 2.0])
def test_reduced_time_is_the_integral_of_a_straight_log_shift(drift):
    s = np.linspace(0, 1, 400_001)
    exact = 7.0 * np.trapezoid(np.exp(0.4 + drift * s), s)
    assert reduced_time(0.4, 0.4 + drift, 7.0) == pytest.approx(exact, rel=1e-7)


def test_the_shift_is_one_at_the_reference_and_bounded():
    assert log_shift(800.0, 800.0, 7e4, 0.5, 800.0) == pytest.approx(0)
    assert log_shift(220.0, 220.0, 2e5, 0.5, 1000.0) == -200


# Derived: one time of 1000 s at 500 °C, hold at 500 °C. Tolerance 0.02 K.
@pytest.mark.parametrize(
    ("x", "start_c", "after_s", "expected_c"),
    [
        (1.0, 520, 3000, 500.996),
        (0.5, 520, 2000, 501.185),
        (0.5, 480, 2000, 491.771),
    ],
)
def test_approach_to_equilibrium_and_its_asymmetry(x, start_c, after_s, expected_c):
    result = fired(
        [0, after_s],
        [500, 500],
        glass=replace(ONE_TIME, nonlinearity_x=x),
        thickness_m=0.001,
        fictive_start_c=start_c,
        settle=False,
    )
    assert result.fictive_mean_c == pytest.approx(expected_c, abs=0.02)


# Converged: 90-expansion, 1 mm from 650 °C. Tolerance 0.3 K.
RATES = {
    1: 447.8,
    3: 455.9,
    10: 465.0,
    30: 473.5,
    100: 483.0,
    300: 491.9,
    1000: 501.9,
}


def frozen_c(rate_c_per_h, accuracy=None):
    end_s = 630 / rate_c_per_h * HOUR_S
    return fired(
        [0, end_s], [650, 20], accuracy or Accuracy(), thickness_m=0.001
    ).fictive_mean_c


@pytest.mark.parametrize(("rate", "expected_c"), RATES.items())
def test_where_the_glass_freezes_at_a_rate(rate, expected_c):
    assert frozen_c(rate) == pytest.approx(expected_c, abs=0.3)


def test_rate_and_fictive_temperature_give_the_activation():
    # Derived: d ln q/d(1/Tf) = -(H/R) to 2.5 %, and -(H/R + 2 T) to 0.5 %.
    fine = Accuracy(step_factor=0.3)
    low_k, high_k = (frozen_c(rate, fine) + 273.15 for rate in (30, 40))
    slope = math.log(40 / 30) / (1 / high_k - 1 / low_k)
    middle_k = (low_k + high_k) / 2
    assert slope == pytest.approx(-NINETY.activation_k, rel=0.025)
    assert slope == pytest.approx(-(NINETY.activation_k + 2 * middle_k), rel=0.005)


def test_faster_cooling_freezes_hotter():
    assert frozen_c(2) < frozen_c(20) < frozen_c(200)


def test_a_cold_piece_keeps_its_fictive_temperature():
    result = fired([0, 1e7], [100, 100], fictive_start_c=486)
    assert result.fictive_mean_c == pytest.approx(486, abs=1e-3)


def test_a_cold_start_is_that_of_an_annealed_piece():
    cold = fired([0, 10], [20, 20])
    assert cold.fictive_mean_c == pytest.approx(NINETY.annealing_point_c - 30)
    hot = fired([0, 1e-3], [700, 700], settle=False)
    assert hot.fictive_mean_c == pytest.approx(700)


def test_fluid_glass_follows_its_temperature():
    result = fired([0, 600], [800, 700], thickness_m=0.003, settle=False)
    assert result.profile.fictive_c == pytest.approx(
        result.profile.temperature_c, abs=1e-3
    )
