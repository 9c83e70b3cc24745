"""The equations of one step of heat conduction, each against what it is derived from.

The kernels run here in plain Python: the same code, without compiling it.
"""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import solve_banded

from firing.physics.glass.families import BOROSILICATE, FLOAT, NINETY
from firing.physics.glass.heat_capacity import HeatCapacity
from firing.physics.slab import conduction

KELVIN = conduction.KELVIN
KERNELS = (
    "heat_content",
    "face_flux",
    "fluxes",
    "jacobian",
    "solve_factored",
    "solve_stage",
    "conduct_step",
)
NODES = 7
CELL_M, DENSITY, CONDUCTIVITY = 0.004, 2500.0, (0.9, 1.1e-3)
HEAT = NINETY.heat_capacity.numbers()
# Bottom, then top: kind, film [W/(m² K)], emissivity.
FILMS = (conduction.FILM, 8.0, 0.85, conduction.FILM, 20.0, 0.9)
INSULATED = (conduction.FILM, 0.0, 0.0) * 2
PRESCRIBED = (conduction.PRESCRIBED, 0.0, 0.0) * 2
MIXED = (conduction.FILM, 8.0, 0.85, conduction.PRESCRIBED, 0.0, 0.0)
FACES = {"films": FILMS, "held": PRESCRIBED, "one of each": MIXED}
VOLUMES = np.full(NODES, CELL_M)
VOLUMES[[0, -1]] /= 2
# Uneven, and across the blend of the specific heat.
UNEVEN_K = np.array([700.0, 790.0, 838.0, 848.0, 862.0, 910.0, 1000.0])
KILN_K = 900.0


@pytest.fixture(autouse=True, scope="module")
def plain():
    """Let the kernels call each other in plain Python."""
    with pytest.MonkeyPatch.context() as patch:
        for name in KERNELS:
            patch.setattr(conduction, name, getattr(conduction, name).py_func)
        yield


def content(t):
    return conduction.heat_content(t, HEAT)[0]


def fluxes(t, faces, kiln_k=KILN_K):
    into = np.zeros(len(t))
    conduction.fluxes(np.array(t), kiln_k, CELL_M, CONDUCTIVITY, faces, into)
    return into


# --- heat content ---


@pytest.mark.parametrize("glass", [NINETY, FLOAT, BOROSILICATE])
@pytest.mark.parametrize("t", [250.0, 400.0, 700.0, 836.0, 850.0, 864.0, 900.0, 1200.0])
def test_the_specific_heat_is_the_slope_of_the_heat_content(glass, t):
    numbers, step = glass.heat_capacity.numbers(), 0.01
    down, up = (
        conduction.heat_content(t + side * step, numbers)[0] for side in (-1, 1)
    )
    _, capacity = conduction.heat_content(t, numbers)
    assert (up - down) / (2 * step) == pytest.approx(capacity, rel=1e-6)
    assert capacity == pytest.approx(glass.heat_capacity.at(t), rel=1e-12)


@pytest.mark.parametrize("glass", [NINETY, FLOAT])
def test_the_heat_content_has_no_jump_at_either_end_of_the_blend(glass):
    numbers = glass.heat_capacity.numbers()
    for end in (numbers[5], numbers[6]):
        below, above = (
            conduction.heat_content(end + side * 1e-7, numbers)[0] for side in (-1, 1)
        )
        assert above - below == pytest.approx(0, abs=1e-3)


def test_a_constant_specific_heat_makes_heat_proportional_to_warming():
    numbers = HeatCapacity.constant(1100.0).numbers()
    cold, hot = (conduction.heat_content(t, numbers)[0] for t in (300.0, 1300.0))
    assert hot - cold == pytest.approx(1100.0 * 1000)


# --- faces ---

kelvins = st.floats(250, 1400)


@given(kelvins, kelvins, st.floats(0, 200), st.floats(0, 1))
def test_heat_goes_from_hot_to_cold_and_back_just_as_much(face, kiln, film, emissivity):
    into = conduction.face_flux(face, kiln, film, emissivity)
    assert into == pytest.approx(-conduction.face_flux(kiln, face, film, emissivity))
    assert into * (kiln - face) >= 0


def test_the_laws_of_newton_and_of_stefan_and_boltzmann():
    assert conduction.face_flux(300.0, 400.0, 10.0, 0.0) == pytest.approx(1000.0)
    # A black body at 1000 K gives off 56.7 kW/m² (the constant of CODATA 2018).
    black = conduction.face_flux(1e-9, 1000.0, 0.0, 1.0)
    assert black == pytest.approx(56_703.74, rel=1e-6)
    small = conduction.face_flux(800.0, 800.01, 0.0, 0.8)
    linear = 4 * 0.8 * conduction.STEFAN_BOLTZMANN * 800.0**3 * 0.01
    assert small == pytest.approx(linear, rel=1e-4)


# --- between the nodes ---


def test_what_leaves_one_node_enters_the_next():
    assert fluxes(UNEVEN_K, INSULATED).sum() == pytest.approx(0, abs=1e-9)
    through_faces = sum(
        conduction.face_flux(UNEVEN_K[at], KILN_K, *FILMS[3 * side + 1 : 3 * side + 3])
        for side, at in ((0, 0), (1, -1))
    )
    assert fluxes(UNEVEN_K, FILMS).sum() == pytest.approx(through_faces)


def test_an_even_slab_as_warm_as_its_kiln_takes_up_nothing():
    for faces in (*FACES.values(), INSULATED):
        assert fluxes(np.full(NODES, KILN_K), faces) == pytest.approx(0, abs=1e-9)


def test_a_profile_whose_kirchhoff_integral_is_straight_is_steady():
    # k = a0 + a1 T: heat flows evenly where a0 T + a1 T²/2 is linear in height.
    a0, a1 = CONDUCTIVITY
    rising = np.linspace(*(a0 * c + a1 * c * c / 2 for c in (300.0, 700.0)), NODES)
    celsius = (-a0 + np.sqrt(a0 * a0 + 2 * a1 * rising)) / a1
    into = fluxes(celsius + KELVIN, INSULATED)
    through = (rising[-1] - rising[0]) / (NODES - 1) / CELL_M
    assert into[1:-1] == pytest.approx(0, abs=1e-6)
    assert into[[0, -1]] == pytest.approx([through, -through])


# --- the matrix ---


def of_step(t, faces, weight_s):
    """Return what Newton's method makes zero, without what is known."""
    stored = DENSITY * VOLUMES * np.array([content(one) for one in t])
    return stored - weight_s * fluxes(t, faces)


def by_differences(faces, weight_s, step_k=1e-3):
    """Return the matrix by central differences, and 1 for a face that is held."""
    matrix = np.zeros((NODES, NODES))
    for at in range(NODES):
        up, down = UNEVEN_K.copy(), UNEVEN_K.copy()
        up[at] += step_k
        down[at] -= step_k
        matrix[:, at] = (
            of_step(up, faces, weight_s) - of_step(down, faces, weight_s)
        ) / (2 * step_k)
    for side, at in ((0, 0), (3, NODES - 1)):
        if faces[side] == conduction.PRESCRIBED:
            matrix[at] = np.eye(NODES)[at]
    return matrix


@pytest.mark.parametrize("faces", FACES.values(), ids=FACES)
@pytest.mark.parametrize("weight_s", [0.5, 60.0, 4000.0])
def test_the_factored_matrix_is_that_of_finite_differences(faces, weight_s):
    bands = np.zeros((4, NODES))
    conduction.jacobian(
        UNEVEN_K, weight_s, CELL_M, DENSITY, CONDUCTIVITY, HEAT, faces, bands
    )
    right = np.array([3.0, -1.0, 4.0, 1.0, -5.0, 9.0, 2.0])
    found = right.copy()
    conduction.solve_factored(bands, found)
    matrix = by_differences(faces, weight_s)
    assert matrix @ found == pytest.approx(right, rel=1e-4)


def test_a_factored_matrix_solves_what_a_library_solves():
    lower, middle, upper = -np.ones(5), np.full(6, 3.0), -0.5 * np.ones(5)
    bands = np.zeros((3, 6))
    pivot = middle[0]
    for at in range(6):
        if at:
            bands[0, at] = lower[at - 1] * bands[1, at - 1]
            pivot = middle[at] - bands[0, at] * bands[2, at - 1]
        bands[1, at] = 1 / pivot
        bands[2, at] = upper[at] if at < 5 else 0.0
    right = np.arange(1.0, 7.0)
    found = right.copy()
    conduction.solve_factored(bands, found)
    rows = np.array([[0, *upper], middle, [*lower, 0]])
    assert found == pytest.approx(solve_banded((1, 1), rows, right))


# --- one step ---


def stepped(t, step_s, faces, *, kiln_k=KILN_K, slope=0.0):
    t = np.array(t, dtype=float)
    work = np.zeros((10, len(t)))
    converged, error, entered = conduction.conduct_step(
        t,
        fluxes(t, faces, kiln_k),
        np.zeros(len(t)),
        kiln_k,
        slope,
        step_s,
        CELL_M,
        DENSITY,
        CONDUCTIVITY,
        HEAT,
        faces,
        work,
    )
    assert converged
    return work[0], error, entered


def stored(t):
    return float(DENSITY * VOLUMES @ np.array([content(one) for one in t]))


@pytest.mark.parametrize("faces", FACES.values(), ids=FACES)
@pytest.mark.parametrize("step_s", [1.0, 60.0, 1800.0])
def test_the_heat_that_enters_is_the_heat_that_is_stored(faces, step_s):
    held = [side for side in (0, 3) if faces[side] == conduction.PRESCRIBED]
    t = UNEVEN_K.copy()
    for side in held:
        t[0 if side == 0 else -1] = KILN_K
    end, _, entered = stepped(t, step_s, faces, slope=0.02)
    scale = DENSITY * VOLUMES.sum() * 1100.0  # of one degree
    assert stored(end) - stored(t) == pytest.approx(entered, abs=1e-6 * scale)
    for side in held:
        assert end[0 if side == 0 else -1] == pytest.approx(KILN_K + 0.02 * step_s)


def test_a_slab_at_rest_stays_as_it_is():
    even = np.full(NODES, KILN_K)
    end, error, entered = stepped(even, 3600.0, FILMS)
    assert end == pytest.approx(even, abs=1e-6)
    assert error == pytest.approx(0, abs=1e-6)
    assert entered == pytest.approx(0, abs=1e-3)


def test_a_slab_without_a_way_out_keeps_its_heat_and_evens_out():
    end, _, entered = stepped(UNEVEN_K, 1e5, INSULATED)
    assert entered == 0
    assert stored(end) == pytest.approx(stored(UNEVEN_K), rel=1e-9)
    assert np.ptp(end) < 0.05 * np.ptp(UNEVEN_K)


def test_half_the_step_has_an_eighth_of_the_estimated_error():
    smooth = 880.0 + 5.0 * np.cos(np.linspace(0, math.pi, NODES))
    errors = [stepped(smooth, step_s, FILMS)[1] for step_s in (2.0, 1.0, 0.5)]
    orders = [math.log2(one / half) for one, half in pairwise(errors)]
    assert orders == pytest.approx([3, 3], abs=0.35)


def test_a_first_guess_far_off_is_brought_in():
    t = np.full(NODES, 5000.0)
    known = DENSITY * VOLUMES * content(600.0)
    bands, change, into = np.zeros((4, NODES)), np.zeros(NODES), np.zeros(NODES)
    assert conduction.solve_stage(
        t, 600.0, 10.0, known, CELL_M, DENSITY, CONDUCTIVITY, HEAT, INSULATED,
        into, bands, change,
    )  # fmt: skip
    assert t == pytest.approx(600.0, abs=1e-6)
