"""The file of one firing: what is read, and that every refusal names its key."""

import copy
import json
import math

import pytest

from firing.physics.formats.firing_format import firing_from_mapping, result_as_mapping
from firing.physics.glass.families import NINETY
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import BOTH_FACES, TOP_ONLY, Bending

EXAMPLE = {
    "glass": "90-expansion",
    "thickness_m": 0.05,
    "boundary": "both",
    "bending": "free",
    "start_c": 800,
    "fictive_start_c": None,
    "kiln_temperature": [
        [0, 800],
        [5700, 482],
        [34500, 482],
        [86604, 427],
        [116249, 371],
        [173549, 21],
    ],
    "settle": True,
    "window_s": [34500, 173549],
}
GLASS = {
    "density_kg_m3": NINETY.density_kg_m3,
    "youngs_modulus_pa": NINETY.youngs_modulus_pa,
    "poisson_ratio": NINETY.poisson_ratio,
    "expansion_glass_per_k": NINETY.expansion_glass_per_k,
    "expansion_liquid_per_k": NINETY.expansion_liquid_per_k,
    "conductivity_w_mk": [0.975, 8.58e-4],
    "heat_capacity_j_kgk": {
        "below": [893, 0.4, -1.8e7],
        "above": [1433, 6.5e-3],
        "blend_k": [850, 15],
    },
    "activation_k": 7e4,
    "nonlinearity_x": 0.5,
    "reference_temperature_k": NINETY.reference_temperature_k,
    "shear_spectrum": [list(term) for term in NINETY.shear_spectrum],
    "bulk_spectrum": [list(term) for term in NINETY.bulk_spectrum],
    "bulk_plateau": 0.18,
    "structural_spectrum": [list(term) for term in NINETY.structural_spectrum],
    "annealing_point_c": 516,
    "strain_point_c": 486,
    "softening_point_c": 677,
    "stress_optic_brewster": 2.7,
}
KEYS = {
    "residual_mid_pa",
    "residual_top_pa",
    "residual_bottom_pa",
    "residual_max_tension_pa",
    "peak_tension_heating_pa",
    "peak_tension_cooling_pa",
    "peak_tension_window_pa",
    "max_temperature_difference_window_k",
    "fictive_mean_c",
    "fictive_spread_k",
    "glass_end_c",
    "retardation_nm_cm",
    "steps",
    "seconds",
}


def with_glass(**changes):
    return EXAMPLE | {"glass": GLASS | changes}


def without(given, *keys):
    return {key: value for key, value in given.items() if key not in keys}


def test_the_example_and_its_results():
    firing = firing_from_mapping(EXAMPLE)
    assert firing.boundary is BOTH_FACES
    assert firing.bending is Bending.FREE
    shown = result_as_mapping(simulate(firing), seconds=0.01)
    assert set(shown) >= KEYS
    assert set(shown["glass_end_c"]) == {"bottom", "middle", "top"}
    # Converged, from the reference: 0.467 and -0.977 MPa, 1.27 after the soak.
    assert shown["residual_mid_pa"] == pytest.approx(0.467e6, rel=0.02)
    assert shown["residual_top_pa"] == pytest.approx(-0.977e6, rel=0.02)
    assert shown["peak_tension_window_pa"] == pytest.approx(1.27e6, rel=0.02)
    assert json.loads(json.dumps(shown, allow_nan=False)) == shown


def test_a_whole_glass_is_the_family_it_was_copied_from():
    named, given = (
        simulate(firing_from_mapping(data)) for data in (EXAMPLE, with_glass())
    )
    assert given.residual_mid_pa == pytest.approx(named.residual_mid_pa, rel=1e-9)


def test_the_reference_temperature_may_be_left_to_the_annealing_point():
    data = EXAMPLE | {"glass": without(GLASS, "reference_temperature_k")}
    glass = firing_from_mapping(data).glass
    assert glass.reference_temperature_k == pytest.approx(
        NINETY.reference_temperature_k
    )


def test_what_may_be_left_out():
    least = {key: EXAMPLE[key] for key in ("glass", "thickness_m", "boundary")}
    firing = firing_from_mapping(least | {"kiln_temperature": [[0, 20], [60, 30]]})
    assert firing.start_c is None
    assert firing.window_s is None
    assert firing.settle
    assert firing.is_relaxing


def test_an_elastic_slab_needs_no_relaxation_data():
    glass = {
        "density_kg_m3": 2500,
        "youngs_modulus_pa": 70e9,
        "poisson_ratio": 0.22,
        "expansion_glass_per_k": 9e-6,
        "conductivity_w_mk": [1.2, 0],
        "heat_capacity_j_kgk": 1100,
    }
    data = {
        "glass": glass,
        "thickness_m": 0.05,
        "boundary": "top",
        "kiln_temperature": [[0, 500], [86400, 20]],
        "relaxation": False,
        "settle": False,
    }
    firing = firing_from_mapping(data)
    assert firing.boundary is TOP_ONLY
    # 20 °C/h: 15.9 K and 2.14 MPa on the face: derived, from the reference.
    result = simulate(firing)
    assert result.window_difference_k == pytest.approx(15.9, rel=0.005)
    assert result.residual_top_pa == pytest.approx(2.14e6, rel=0.005)


def test_films():
    data = EXAMPLE | {
        "boundary": {
            "h_bottom_w_m2k": 5,
            "h_top_w_m2k": 5,
            "emissivity_bottom": 0,
            "emissivity_top": 0.9,
        }
    }
    boundary = firing_from_mapping(data).boundary
    assert boundary.top.emissivity == 0.9
    assert boundary.bottom.film_w_m2k == 5


def refused(key, data):
    with pytest.raises(PhysicsProblem) as caught:
        firing_from_mapping(data)
    assert key in str(caught.value)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@pytest.mark.parametrize(
    "key", ["glass", "thickness_m", "boundary", "kiln_temperature"]
)
def test_a_missing_key_is_named(key):
    assert "missing" in refused(key, without(EXAMPLE, key))


@pytest.mark.parametrize("key", sorted(without(GLASS, "strain_point_c",
    "softening_point_c", "reference_temperature_k")))  # fmt: skip
def test_a_missing_key_of_the_glass_is_named(key):
    refused(f"glass.{key}", EXAMPLE | {"glass": without(GLASS, key)})


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("format", 2),
        ("glass", "windows"),
        ("glass", 90),
        ("thickness_m", 50),
        ("thickness_m", "0.05"),
        ("thickness_m", True),
        ("thickness_m", math.nan),
        ("thickness_m", -0.05),
        ("thickness_m", 10**400),
        ("boundary", "bottom"),
        ("boundary", 5),
        ("boundary", {"h_top_w_m2k": -1}),
        ("boundary", {"h_top_w_m2k": 0}),
        ("boundary", {"h": 5}),
        ("bending", "round"),
        ("start_c", 5000),
        ("fictive_start_c", "hot"),
        ("kiln_temperature", []),
        ("kiln_temperature", "800"),
        ("kiln_temperature", [[0, 800], [10]]),
        ("kiln_temperature", [[0, 800], [10, None]]),
        ("kiln_temperature", [[0, 800], [-10, 700]]),
        ("kiln_temperature", [[0, 800], [10, math.inf]]),
        ("kiln_temperature", [[0, 2000]]),
        ("kiln_temperature", [[0, 20], [1e15, 20]]),
        ("settle", "yes"),
        ("relaxation", 0),
        ("window_s", [5]),
        ("window_s", [500, 5]),
        ("window_s", [1e9, 2e9]),
        ("surprise", 1),
    ],
)
def test_a_bad_value_is_named(key, value):
    refused(key, EXAMPLE | {key: value})


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("density_kg_m3", 2.5),
        ("poisson_ratio", 0.9),
        ("expansion_liquid_per_k", 1e-6),
        ("conductivity_w_mk", [1.0]),
        ("conductivity_w_mk", [-1.0, 0]),
        ("heat_capacity_j_kgk", 0.8),
        ("heat_capacity_j_kgk", {"below": [893, 0.4, -1.8e7]}),
        ("heat_capacity_j_kgk", {"below": [1, 2], "above": [1433, 0]}),
        ("activation_k", 0),
        ("activation_k", -1),
        ("shear_spectrum", []),
        ("shear_spectrum", [[0.5, 1.0]]),
        ("shear_spectrum", [[1.0, 0.0]]),
        ("bulk_plateau", 2),
        ("structural_spectrum", [[1.0, math.nan]]),
        ("annealing_point_c", 200),
        ("strain_point_c", 700),
        ("softening_point_c", 400),
        ("stress_optic_brewster", 27),
        ("reference_temperature_k", 1200),
        ("colour", "blue"),
    ],
)
def test_a_bad_number_of_the_glass_is_named(key, value):
    refused(key, with_glass(**{key: value}))


def test_reading_does_not_change_what_was_given():
    given = copy.deepcopy(EXAMPLE)
    firing_from_mapping(given)
    assert given == EXAMPLE


@pytest.mark.parametrize("given", [None, [], "x", 5])
def test_what_is_no_object_is_refused(given):
    refused("object", given)
