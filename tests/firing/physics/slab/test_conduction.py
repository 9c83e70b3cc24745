"""Heat through a slab against the exact series of a plane wall, and its own balance.

The series (tables of zeta and C agree with handbook tables, from memory) is summed here;
the values of the reference table are checked against it and against the engine.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from firing.physics.glass.families import FLOAT, NINETY
from firing.physics.glass.heat_capacity import HeatCapacity
from firing.physics.slab.input import Accuracy
from firing.physics.slab.surroundings import (
    BOTH_FACES,
    BOTH_FACES_FILM,
    INSULATED,
    TOP_ONLY,
    TOP_ONLY_FILM,
    Boundary,
    Face,
    equalising_time_s,
)
from tests.firing.physics.slabs import PLAIN, PLAIN_DIFFUSIVITY_M2_S, films, fired

K_W_MK = 1.2
# Bi, Fo, centre, surface: exact series, derived for the reference. Tolerance 1e-3.
PLANE_WALL = [
    (0.1, 2, 0.8373, 0.7971),
    (0.1, 10, 0.3861, 0.3676),
    (0.5, 1, 0.6984, 0.5546),
    (1, 0.2, 0.9506, 0.6434),
    (1, 1, 0.5339, 0.3482),
    (2, 0.5, 0.6596, 0.3131),
    (5, 0.5, 0.5231, 0.1330),
    (10, 0.2, 0.8293, 0.1225),
    (10, 1, 0.1638, 0.0232),
    (100, 0.5, 0.3799, 0.0059),
    (math.inf, 0.2, 0.7723, 0.0),
]
# Bi, zeta_1, C_1: the same.
FIRST_TERMS = [
    (0.1, 0.3111, 1.0161),
    (0.5, 0.6533, 1.0701),
    (1, 0.8603, 1.1191),
    (2, 1.0769, 1.1785),
    (5, 1.3138, 1.2402),
    (10, 1.4289, 1.2620),
    (100, 1.5552, 1.2731),
    (math.inf, 1.5708, 1.2732),
]


def roots(biot, count=60):
    if math.isinf(biot):
        return [(n + 0.5) * math.pi for n in range(count)]
    gap = 1e-12
    return [
        brentq(
            lambda z: z * math.sin(z) - biot * math.cos(z),
            n * math.pi + gap,
            (n + 0.5) * math.pi - gap,
        )
        for n in range(count)
    ]


def amplitude(zeta):
    return 4 * math.sin(zeta) / (2 * zeta + math.sin(2 * zeta))


def series(biot, fourier, x):
    return sum(
        amplitude(z) * math.exp(-z * z * fourier) * math.cos(z * x) for z in roots(biot)
    )


@pytest.mark.parametrize(("biot", "zeta", "first"), FIRST_TERMS)
def test_the_series_here_has_the_handbooks_first_terms(biot, zeta, first):
    assert roots(biot)[0] == pytest.approx(zeta, abs=6e-5)
    assert amplitude(roots(biot)[0]) == pytest.approx(first, abs=6e-5)


@pytest.mark.parametrize("one_face", [False, True])
@pytest.mark.parametrize(("biot", "fourier", "centre", "surface"), PLANE_WALL)
def test_a_plane_wall_after_a_step(biot, fourier, centre, surface, one_face):
    assert series(biot, fourier, 0) == pytest.approx(centre, abs=6e-5)
    length_m = 0.02
    h = biot * K_W_MK / length_m
    boundary = TOP_ONLY if one_face else BOTH_FACES
    if not math.isinf(biot):
        boundary = films(h)
        if one_face:
            boundary = Boundary(bottom=INSULATED, top=Face(film_w_m2k=h))
    end_s = fourier * length_m**2 / PLAIN_DIFFUSIVITY_M2_S
    result = fired(
        [0, end_s],
        [100, 100],
        glass=PLAIN,
        thickness_m=length_m * (1 if one_face else 2),
        boundary=boundary,
        start_c=300,
        settle=False,
        is_relaxing=False,
    )
    theta = (result.profile.temperature_c - 100) / 200
    middle = theta[0] if one_face else theta[theta.size // 2]
    assert middle == pytest.approx(centre, abs=1e-3)
    assert theta[-1] == pytest.approx(surface, abs=1e-3)
    assert result.end_top_c == pytest.approx(100 + 200 * surface, abs=0.2)


def test_a_film_that_grows_becomes_a_face_at_kiln_temperature():
    def middle_c(boundary):
        return fired(
            [0, 600], [20, 20], start_c=500, boundary=boundary, settle=False
        ).end_middle_c

    assert middle_c(films(1e5)) == pytest.approx(middle_c(BOTH_FACES), abs=0.2)
    assert middle_c(films(10)) > middle_c(films(100)) > middle_c(BOTH_FACES) + 1


def test_radiation_follows_the_fourth_power():
    # A thin sheet is uniform: rho cp d/2 dT/dt = eps s (Tk⁴ - T⁴) per face. Starting
    # slope, worked out by hand.
    start_k, kiln_k = 773.15, 373.15
    flux = 0.9 * 5.670374419e-8 * (kiln_k**4 - start_k**4)
    slope = flux / (2500 * 1100 * 0.0005)
    result = fired(
        [0, 0.2],
        [100, 100],
        glass=PLAIN,
        thickness_m=0.001,
        start_c=500,
        boundary=films(0, emissivity=0.9),
        settle=False,
    )
    glass_c = result.profile.temperature_c
    mean_c = np.trapezoid(glass_c, dx=1 / (glass_c.size - 1))
    assert mean_c - 500 == pytest.approx(slope * 0.2, rel=2e-2)


def test_heat_content_is_the_integral_of_the_specific_heat():
    # The balance of energy through the blend is only as good as this integral.
    heat = FLOAT.heat_capacity
    temperatures = np.linspace(300, 1100, 80_001)
    exact = np.trapezoid([heat.at(t) for t in temperatures], temperatures)
    result = fired(
        [0, 10], [826.85, 826.85], start_c=26.85, glass=FLOAT, thickness_m=0.002
    )
    assert result.diagnostics.energy_error < 1e-8
    c0, c1, c2, c3, c4, *_, constant = heat.numbers()
    high = constant + 1100 * (c3 + c4 * 550)
    low = c0 * 300 + c1 * 300**2 / 2 - c2 / 300
    assert high - low == pytest.approx(exact, rel=1e-8)


def test_specific_heat_of_the_reference():
    # 813 J/(kg K) at 300 K, and 4.9e-7, 4.8e-7 m²/s at 27 and 480 °C: the reference.
    assert FLOAT.heat_capacity.at(300) == pytest.approx(813, abs=0.5)
    assert FLOAT.diffusivity_m2_s(27) == pytest.approx(4.9e-7, rel=0.01)
    assert FLOAT.diffusivity_m2_s(480) == pytest.approx(4.8e-7, rel=0.01)
    step = HeatCapacity(below=(800, 0, 0), above=(1200, 0), blend_half_width_k=0)
    assert (step.at(849), step.at(851)) == (800, 1200)


def test_how_long_a_slab_takes_to_even_out():
    # 50 mm: 9 min through both faces, 36 min through one (derived for the reference).
    both = equalising_time_s(0.05, 4.8e-7, BOTH_FACES)
    assert both / 60 == pytest.approx(9, abs=0.3)
    assert equalising_time_s(0.05, 4.8e-7, TOP_ONLY) == pytest.approx(4 * both)


@pytest.mark.parametrize("one_face", [False, True])
def test_the_grid_converges_in_second_order(one_face):
    biot, length_m = 2.0, 0.02
    h = biot * K_W_MK / length_m
    boundary = Boundary(
        bottom=INSULATED if one_face else Face(film_w_m2k=h), top=Face(film_w_m2k=h)
    )
    end_s = 0.5 * length_m**2 / PLAIN_DIFFUSIVITY_M2_S

    def error(nodes):
        result = fired(
            [0, end_s],
            [0, 0],
            Accuracy(nodes=nodes, step_factor=0.05),
            glass=PLAIN,
            thickness_m=length_m * (1 if one_face else 2),
            boundary=boundary,
            start_c=500,
            settle=False,
            is_relaxing=False,
        )
        return abs(result.end_top_c - 500 * series(biot, 0.5, 1))

    errors = [error(nodes) for nodes in (5, 9, 17)]
    orders = np.log2(np.divide(errors[:-1], errors[1:]))
    assert np.all(orders > 1.9)
    assert np.all(orders < 2.2)


def test_steps_converge_in_second_order():
    def middle_c(factor):
        return fired(
            [0, 900],
            [100, 100],
            Accuracy(step_factor=factor),
            start_c=500,
            boundary=films(30, emissivity=0.9),
            settle=False,
            is_relaxing=False,
        ).end_middle_c

    exact = middle_c(0.03)
    errors = [abs(middle_c(factor) - exact) for factor in (2, 1, 0.5)]
    assert errors[0] / errors[2] > 12  # 16 in the limit
    assert errors[1] < 0.01


BOUNDARIES = [BOTH_FACES, TOP_ONLY, BOTH_FACES_FILM, TOP_ONLY_FILM, films(50)]
# Degrees and minutes, as a kiln gives them.
HISTORIES = st.lists(
    st.tuples(st.floats(0, 20_000), st.floats(20, 850)), min_size=1, max_size=6
)


@settings(max_examples=60, deadline=None)
@given(
    points=HISTORIES,
    boundary=st.sampled_from(BOUNDARIES),
    thickness_m=st.floats(0.003, 0.15),
    start_c=st.floats(20, 850),
)
def test_heat_taken_up_is_heat_let_in(points, boundary, thickness_m, start_c):
    time_s = np.cumsum([gap for gap, _ in points])
    result = fired(
        time_s,
        [kiln_c for _, kiln_c in points],
        boundary=boundary,
        thickness_m=thickness_m,
        start_c=start_c,
        glass=NINETY,
    )
    assert result.diagnostics.energy_error < 1e-7
    # A face that jumps cold on liquid glass: nothing balances it but rounding.
    assert result.diagnostics.force_error < 1e-6
    assert result.diagnostics.moment_error < 1e-6


@settings(max_examples=40, deadline=None)
@given(
    end_s=st.floats(10, 50_000),
    boundary=st.sampled_from(BOUNDARIES),
    start_c=st.floats(20, 850),
    kiln_c=st.floats(20, 850),
)
def test_glass_stays_between_where_it_was_and_where_the_kiln_is(
    end_s, boundary, start_c, kiln_c
):
    result = fired(
        [0, end_s], [kiln_c] * 2, start_c=start_c, boundary=boundary, settle=False
    )
    glass_c = result.profile.temperature_c
    spread = 1e-3 * abs(start_c - kiln_c) + 1e-6
    assert min(start_c, kiln_c) - spread <= np.min(glass_c)
    assert np.max(glass_c) <= max(start_c, kiln_c) + spread


@settings(max_examples=25, deadline=None)
@given(
    thickness_m=st.floats(0.004, 0.1),
    scale=st.floats(1.1, 3),
    boundary=st.sampled_from([BOTH_FACES, TOP_ONLY]),
)
def test_time_goes_with_the_square_of_thickness(thickness_m, scale, boundary):
    # Exactly so for constant properties and faces at kiln temperature.
    def temperatures(factor):
        time_s = np.array([0, 3000, 6000]) * (thickness_m / 0.05) ** 2 * factor**2
        result = fired(
            time_s,
            [500, 300, 280],
            glass=PLAIN,
            thickness_m=thickness_m * factor,
            boundary=boundary,
            settle=False,
            is_relaxing=False,
        )
        return result.profile.temperature_c

    assert temperatures(1) == pytest.approx(temperatures(scale), abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(thickness_m=st.floats(0.003, 0.2), more=st.floats(1.05, 2))
def test_thicker_is_never_faster(thickness_m, more):
    def lag_k(d):
        return fired(
            [0, 5000], [500, 400], thickness_m=d, boundary=TOP_ONLY, settle=False
        ).end_bottom_c

    assert lag_k(thickness_m * more) >= lag_k(thickness_m) - 1e-6
