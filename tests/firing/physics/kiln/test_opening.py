"""Taking a slab out of its kiln: how warm it may be, when, and what it does to it."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from firing.physics.glass.families import BOROSILICATE, NINETY
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.opening import (
    AIR_FALLS_S,
    HOTTEST_C,
    SHARE_OF_LIMIT,
    Slab,
    safe_opening_c,
    taken_out,
    until_out,
)
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import (
    BOTH_FACES_FILM,
    GLASS_EMISSIVITY,
    STILL_AIR_W_M2K,
    TOP_ONLY_FILM,
)
from tests.firing.physics.slabs import HOUR_S, PLAIN, PLAIN_DIFFUSIVITY_M2_S, firing

KILN = KilnModel(
    power_w=6000,
    max_temperature_c=930,
    ambient_c=20,
    holding_fraction=0.45,
    cooling_time_constant_s=7 * HOUR_S,
)


def slab(mm, **changes):
    facts = {
        "glass": NINETY,
        "thickness_m": mm / 1000,
        "boundary": TOP_ONLY_FILM,
        "temporary_pa": 3e6,
    }
    return Slab(**(facts | changes))


def shocked(of, from_c, **changes):
    """Return the largest tension when a slab of one temperature is taken out [Pa]."""
    in_hand = firing(
        [0.0],
        [from_c],
        glass=of.slow_glass,
        thickness_m=of.thickness_m,
        is_relaxing=False,
        **changes,
    )
    return simulate(taken_out(in_hand)).cooling.tension_pa


def by_the_series(thickness_m, from_c, room_c=20.0):
    """Return the face's tension by the plane wall's series [Pa].

    theta = sum 4 sin z/(2z + sin 2z) exp(-z² Fo) cos(z x/L) with z tan z = Bi, as in any
    handbook of heat transfer (from memory); air that falls in a line is the mean of
    steps; the face's stress is M alpha (mean - face), derived. The film is still air
    and radiation made linear at the mean temperature.
    """
    glass, length_m = PLAIN, thickness_m / 2
    middle_k = (from_c + room_c) / 2 + 273.15
    film = STILL_AIR_W_M2K + 4 * GLASS_EMISSIVITY * 5.670374419e-8 * middle_k**3
    biot = film * length_m / glass.conductivity_w_mk[0]
    zetas = np.array(
        [
            brentq(
                lambda z: z * np.sin(z) - biot * np.cos(z),
                n * np.pi + 1e-9,
                n * np.pi + np.pi / 2 - 1e-9,
            )
            for n in range(30)
        ]
    )
    weights = 4 * np.sin(zetas) / (2 * zetas + np.sin(2 * zetas))
    decay = zetas**2 * PLAIN_DIFFUSIVITY_M2_S / length_m**2
    time_s = np.linspace(AIR_FALLS_S, AIR_FALLS_S + 4000, 2000)[:, None]
    steps = (np.exp(-decay * (time_s - AIR_FALLS_S)) - np.exp(-decay * time_s)) / (
        decay * AIR_FALLS_S
    )
    share = (steps * weights) @ (np.sin(zetas) / zetas - np.cos(zetas))
    modulus = glass.plane_modulus_pa * glass.expansion_glass_per_k
    return modulus * (from_c - room_c) * share.max()


@pytest.mark.parametrize("mm", [25, 60, 100])
def test_the_shock_is_that_of_the_plane_wall(mm):
    of = slab(mm, glass=PLAIN, conductivity_share=0.0)
    assert shocked(of, 50.0) == pytest.approx(by_the_series(mm / 1000, 50.0), rel=0.015)


@pytest.mark.parametrize("glass", [NINETY, BOROSILICATE], ids=lambda one: one.name)
@pytest.mark.parametrize("mm", [3, 12, 40, 60, 100, 150])
def test_the_shock_from_the_safe_temperature_is_within_its_share(mm, glass):
    of = slab(mm, glass=glass)
    opens_c = safe_opening_c(of)
    allowed_pa = SHARE_OF_LIMIT * of.temporary_pa
    assert shocked(of, opens_c) <= 1.01 * allowed_pa
    if opens_c < HOTTEST_C:
        assert shocked(of, opens_c + 2) > allowed_pa


def test_thicker_glass_and_tighter_limits_open_colder():
    opens_c = [safe_opening_c(slab(mm)) for mm in (12, 25, 40, 60, 80, 100, 150)]
    assert opens_c == sorted(opens_c, reverse=True)
    assert safe_opening_c(slab(60, temporary_pa=1.5e6)) < safe_opening_c(slab(60))


@pytest.mark.parametrize("kiln", [KILN, None], ids=["a kiln", "one that stays"])
@pytest.mark.parametrize("boundary", [TOP_ONLY_FILM, BOTH_FACES_FILM])
@pytest.mark.parametrize("mm", [3, 60, 150])
def test_the_glass_itself_is_waited_for(mm, boundary, kiln):
    of = slab(mm, boundary=boundary)
    fallen_s, fallen_c = np.array([0.0, 40 * HOUR_S]), np.array([370.0, 50.0])
    time_s, shown_c = until_out(fallen_s, fallen_c, of, opening_c=50.0, kiln=kiln)
    assert time_s[-1] >= fallen_s[-1]

    def hottest_c(until_s):
        result = simulate(
            firing(
                np.append(time_s[time_s < until_s], until_s),
                np.append(
                    shown_c[time_s < until_s], np.interp(until_s, time_s, shown_c)
                ),
                glass=of.slow_glass,
                thickness_m=of.thickness_m,
                boundary=boundary,
                settle=False,
            )
        )
        return max(result.end_bottom_c, result.end_middle_c, result.end_top_c)

    assert hottest_c(float(time_s[-1])) <= 52.1
    if time_s[-1] > fallen_s[-1] + HOUR_S:
        assert hottest_c(float(time_s[-1]) - HOUR_S) > 51.9


def test_air_at_the_opening_temperature_is_not_enough_for_a_thick_slab():
    of = slab(100)
    fallen = firing(
        [0.0, 56 * HOUR_S],
        [370.0, 50.0],
        glass=of.slow_glass,
        thickness_m=0.1,
        boundary=TOP_ONLY_FILM,
        is_relaxing=False,
    )
    assert simulate(taken_out(fallen)).cooling.tension_pa > of.temporary_pa
    time_s, shown_c = until_out(
        fallen.time_s, fallen.kiln_c, of, opening_c=safe_opening_c(of), kiln=KILN
    )
    waited = replace(fallen, time_s=time_s, kiln_c=shown_c)
    assert simulate(taken_out(waited)).cooling.tension_pa < of.temporary_pa


def test_glass_that_is_as_cold_as_the_room_is_taken_out_as_it_is():
    cold = firing([0.0, HOUR_S], [40.0, 19.0])
    assert taken_out(cold) is cold
