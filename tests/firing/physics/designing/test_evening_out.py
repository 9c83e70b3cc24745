"""How long a slab needs to be even, against the plane wall's series."""

import math
from dataclasses import replace

import numpy as np
import pytest

from firing.physics.designing.band import Uncertainty
from firing.physics.designing.evening_out import (
    EVEN_K,
    UNEVEN_K,
    slow_time_s,
    time_until_even_s,
    time_until_warm_s,
)
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.surroundings import TOP_ONLY, TOP_ONLY_FILM
from tests.firing.physics.slabs import PLAIN, PLAIN_DIFFUSIVITY_M2_S, firing

SURE = Uncertainty(annealing_point_k=0, conductivity_share=0, thermocouple_k=0)
TAU_S = 0.05**2 / (PLAIN_DIFFUSIVITY_M2_S * (math.pi / 2) ** 2)


def step_of(boundary, **changes):
    """A slab at 582 °C whose kiln drops to 482 °C within a second."""
    return firing(
        [0, 1, 60 * TAU_S],
        [582, 482, 482],
        glass=PLAIN,
        boundary=boundary,
        is_relaxing=False,
        **changes,
    )


def test_through_the_thickness():
    # theta(0) = 4/pi exp(-t/tau): 100 K fall to 2 K (series of the plane wall).
    expected_s = TAU_S * math.log(4 / math.pi * 100 / EVEN_K)
    evening = time_until_even_s(step_of(TOP_ONLY), SURE, soak_c=482.0, after_s=1.0)
    assert evening.through_s == pytest.approx(expected_s, rel=0.03)
    assert evening.across_s == pytest.approx(TAU_S * math.log(UNEVEN_K / EVEN_K))


def test_less_conductivity_takes_longer():
    doubt = replace(SURE, conductivity_share=0.15)
    sure = time_until_even_s(step_of(TOP_ONLY), SURE, soak_c=482.0, after_s=1.0)
    doubtful = time_until_even_s(step_of(TOP_ONLY), doubt, soak_c=482.0, after_s=1.0)
    assert doubtful.through_s > sure.through_s * 1.1
    assert doubtful.across_s == pytest.approx(sure.across_s / 0.85)


def test_a_film_adds_its_own_time():
    film = slow_time_s(step_of(TOP_ONLY_FILM), SURE, 482.0)
    bare = slow_time_s(step_of(TOP_ONLY), SURE, 482.0)
    assert bare == pytest.approx(TAU_S)
    # rho cp d/(h + 4 eps sigma T³) = 2500 x 1100 x 0.05/(5 + 88) s.
    assert film - bare == pytest.approx(2500 * 1100 * 0.05 / 93, rel=0.02)


def test_warm_through():
    hot = firing(
        [0, 1, 60 * TAU_S],
        [20, 520, 520],
        glass=PLAIN,
        boundary=TOP_ONLY,
        is_relaxing=False,
    )
    expected_s = TAU_S * math.log(4 / math.pi * 500 / 20)
    warm_s = time_until_warm_s(hot, SURE, at_least_c=500.0, after_s=1.0)
    assert warm_s == pytest.approx(expected_s, rel=0.03)
    with pytest.raises(PhysicsProblem, match="would not reach"):
        time_until_warm_s(hot, SURE, at_least_c=530.0, after_s=1.0)


def test_too_short_a_soak():
    short = firing(
        np.array([0.0, 1, 100]),
        [582, 482, 482],
        glass=PLAIN,
        boundary=TOP_ONLY,
        is_relaxing=False,
    )
    with pytest.raises(PhysicsProblem, match="does not even out"):
        time_until_even_s(short, SURE, soak_c=482.0, after_s=1.0)
