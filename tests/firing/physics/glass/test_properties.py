"""Glass data: provenance of every number, own glasses, and what is refused."""

import math
from dataclasses import fields, replace

import pytest

from firing.physics.glass.families import (
    BOROSILICATE,
    FAMILIES,
    FLOAT,
    FLOAT_TEMPERING,
    NINETY,
    NINETY_SIX,
    QUOTED_ANNEALING_C,
    family,
    quoted_above_k,
)
from firing.physics.glass.properties import (
    GlassProblem,
    glass_from_data_sheet,
    implied_annealing_point_c,
    soak_of,
    with_annealing_point,
)


def test_only_a_family_that_is_quoted_twice_is_uncertain_above():
    assert quoted_above_k("90-expansion") == 16
    for name in FAMILIES.keys() - QUOTED_ANNEALING_C.keys():
        assert quoted_above_k(name) == 0
    for name, quoted in QUOTED_ANNEALING_C.items():
        assert family(name).annealing_point_c == min(quoted)


def test_thick_work_of_either_fusing_family_is_soaked_below_its_annealing_point():
    for glass in (NINETY, NINETY_SIX):
        assert 25 < glass.annealing_point_c - soak_of(glass) < 40


def test_an_annealing_point_that_nobody_knows_is_the_familys():
    glass = glass_from_data_sheet(
        NINETY, name="x", annealing_point_c=None, soak_c=482.0
    )
    assert glass.annealing_point_c == NINETY.annealing_point_c
    assert glass.softening_point_c == NINETY.softening_point_c
    said = glass.provenance["annealing_point_c"]
    assert said.startswith("as 90-expansion")
    assert "532" in said


NOT_NUMBERS = {"name", "provenance"}


@pytest.mark.parametrize("name", FAMILIES)
def test_every_number_of_a_family_says_where_it_is_from(name):
    glass = FAMILIES[name]
    for item in fields(glass):
        if item.name in NOT_NUMBERS or getattr(glass, item.name) is None:
            continue
        words = glass.provenance[item.name]
        assert any(
            said in words
            for said in ("opened", "memory", "derived", "assumed", "name", "quotes")
        ), (name, item.name, words)


def test_the_families_of_the_trade_are_there():
    assert set(FAMILIES) >= {
        "float",
        "90-expansion",
        "96-expansion",
        "borosilicate-3.3",
        "float-tempering",
    }
    with pytest.raises(GlassProblem, match="90-expansion"):
        family("windows")


def test_the_spectrum_stands_where_the_annealing_point_asks():
    # Reference: T_an 516 °C and H/R 7e4 give 548.9 °C (derived); 869 K implies 562 °C.
    assert NINETY.reference_temperature_k - 273.15 == pytest.approx(548.9, abs=0.1)
    assert implied_annealing_point_c(NINETY) == pytest.approx(516)
    assert implied_annealing_point_c(FLOAT_TEMPERING) == pytest.approx(562, abs=0.2)


def test_equilibrium_viscosity_of_the_tempering_set():
    # Reference: 2.87e10 Pa s at 596 °C (derived from the spectrum).
    mean_s = sum(w * t for w, t in FLOAT_TEMPERING.shear_spectrum)
    assert FLOAT_TEMPERING.shear_modulus_pa * mean_s == pytest.approx(2.87e10, rel=0.01)


def test_moduli():
    assert NINETY.plane_modulus_pa == pytest.approx(70e9 / 0.78)
    # E/(1-nu) is also 18 G K/(4 G + 3 K).
    g, k = NINETY.shear_modulus_pa, NINETY.bulk_modulus_pa
    assert 18 * g * k / (4 * g + 3 * k) == pytest.approx(NINETY.plane_modulus_pa)


def test_borosilicate_conducts_as_it_was_read():
    assert BOROSILICATE.conductivity_at(90) == pytest.approx(1.2)
    assert BOROSILICATE.heat_capacity.at(300) == pytest.approx(830, abs=1)


def own(**changes):
    values = {
        "name": "our clear",
        "annealing_point_c": 532.0,
        "soak_c": 500.0,
        "strain_point_c": 493.0,
    }
    return glass_from_data_sheet(NINETY, **(values | changes))


def test_an_own_glass_keeps_the_sheets_numbers_and_says_so():
    glass = own(expansion_glass_per_k=9.3e-6)
    assert implied_annealing_point_c(glass) == pytest.approx(532)
    assert soak_of(glass) == 500
    assert glass.expansion_liquid_per_k == pytest.approx(3 * 9.3e-6)
    assert glass.softening_point_c == 677 + 532 - 516
    assert glass.provenance["annealing_point_c"] == "the maker's data sheet"
    assert glass.provenance["density_kg_m3"].startswith("as 90-expansion")


def test_annealing_point_and_soak_must_be_given():
    with pytest.raises(TypeError, match="soak_c"):
        glass_from_data_sheet(NINETY, name="x", annealing_point_c=532)
    with pytest.raises(TypeError, match="annealing_point_c"):
        glass_from_data_sheet(NINETY, name="x", soak_c=482)
    with pytest.raises(GlassProblem, match="cannot be told from the expansion"):
        soak_of(replace(FLOAT, soak_c=None))


def test_contradictions_and_implausible_numbers_are_refused_with_the_reason():
    with pytest.raises(GlassProblem, match="order is strain"):
        own(strain_point_c=540.0)
    with pytest.raises(GlassProblem, match="order is strain"):
        own(softening_point_c=520.0)
    with pytest.raises(GlassProblem, match="another unit"):
        own(soak_c=900.0)  # Fahrenheit
    with pytest.raises(GlassProblem, match="unit"):
        own(annealing_point_c=1000.0 * 9 / 5)
    with pytest.raises(GlassProblem, match="contradict"):
        replace(NINETY, reference_temperature_k=1100.0)
    with pytest.raises(GlassProblem, match="expands at least"):
        replace(NINETY, expansion_liquid_per_k=5e-6)
    with pytest.raises(GlassProblem, match="expansion_glass_per_k"):
        own(expansion_glass_per_k=90.0)
    for key, value in (
        ("density_kg_m3", 2.5),
        ("youngs_modulus_pa", 70.0),
        ("poisson_ratio", 0.5),
        ("activation_k", math.nan),
        ("bulk_plateau", 0.0),
        ("stress_optic_brewster", 270.0),
        ("conductivity_w_mk", (1.0, -0.002)),
        ("structural_spectrum", ()),
        ("shear_spectrum", ((0.5, 1.0),)),
        ("bulk_spectrum", ((1.0, -1.0),)),
    ):
        with pytest.raises(GlassProblem, match=key):
            replace(NINETY, **{key: value})


def test_another_annealing_point_moves_its_neighbours_but_not_the_soak():
    moved = with_annealing_point(NINETY, 526.0)
    assert implied_annealing_point_c(moved) == pytest.approx(526)
    assert (moved.strain_point_c, moved.softening_point_c) == (496, 687)
    assert moved.soak_c == NINETY.soak_c
    same = with_annealing_point(FLOAT_TEMPERING, 562.0)
    assert same.reference_temperature_k == pytest.approx(869)
