"""Thin curves: few points, never further off than allowed."""

import numpy as np
import pytest

from firing.physics.kiln.thinning import thin
from firing.physics.schedule import PhysicsProblem


def test_corners_stay():
    time_s = np.linspace(0, 100, 101)
    kiln_c = np.minimum(time_s * 10, 500.0)
    curve = thin(time_s, kiln_c, within_k=0.01)
    assert list(curve.time_s) == [0, 50, 100]


@pytest.mark.parametrize("within_k", [0.1, 1.0, 10.0])
def test_within(within_k):
    rng = np.random.default_rng(1)
    time_s = np.cumsum(rng.uniform(1, 60, 2000))
    kiln_c = 400 + np.cumsum(rng.normal(0, 0.5, 2000))
    curve = thin(time_s, kiln_c, within_k=within_k)
    off = np.abs(np.interp(time_s, curve.time_s, curve.temperature_c) - kiln_c)
    assert off.max() <= within_k
    assert curve.time_s.size < 2000


def test_a_jump_stays():
    time_s = np.array([0.0, 10.0, 10.0, 20.0])
    curve = thin(time_s, np.array([500.0, 500.0, 20.0, 20.0]), within_k=1)
    assert list(curve.temperature_c) == [500, 500, 20, 20]


def test_refused():
    with pytest.raises(PhysicsProblem, match="above zero"):
        thin(np.zeros(2), np.zeros(2), within_k=0)
    with pytest.raises(PhysicsProblem, match="no reading"):
        thin(np.zeros(0), np.zeros(0), within_k=1)
