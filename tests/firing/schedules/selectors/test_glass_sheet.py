"""Whether the model takes a glass's data sheet: its refusals in the reader's units."""

import pytest

from firing.physics.glass.families import NINETY, family
from firing.physics.glass.viscosity import log10_viscosity, temperature_at
from firing.schedules.selectors.glass_sheet import data_sheet_problems
from studio.models import GlassFamily
from studio.selectors.glass_checks import glass_problems
from studio.selectors.glass_families import too_cold, usual_temperatures
from tests import plain


def problems(*, in_fahrenheit=False, **changes):
    viewer = plain.viewer(in_fahrenheit=in_fahrenheit)
    return data_sheet_problems(plain.glass(**changes), viewer)


@pytest.mark.parametrize("expansion", [None, 90.0, 91.0])
def test_a_sound_sheet_has_no_problem(expansion):
    assert problems(expansion_1e7_per_k=expansion) == []


@pytest.mark.parametrize("name", GlassFamily.values)
def test_a_family_is_fired_where_it_is_as_soft_as_the_known_one(name):
    """816 and 593 °C for the 90 family: common practice, no source, as it is that the
    96 family, 15 K off at most, is fired alike."""
    usual, glass = usual_temperatures(name), family(name)
    within_k = 15 if name == GlassFamily.EXPANSION_96 else 5
    for own_c, ninety_c in ((usual.full_fuse_c, 815.6), (usual.enamel_c, 593.3)):
        as_soft_c = temperature_at(glass, log10_viscosity(NINETY, ninety_c))
        assert own_c == pytest.approx(as_soft_c, abs=within_k)
    assert usual.anneal_soak_c == glass.soak_c
    assert min(usual.annealing_points_c) == glass.annealing_point_c


def test_known_temperatures_of_the_families_come_out():
    found = {name: usual_temperatures(name) for name in GlassFamily.values}
    assert [round(one.full_fuse_c) for one in found.values()] == pytest.approx(
        [883, 816, 816, 1071], abs=5
    )
    assert [round(one.enamel_c) for one in found.values()] == pytest.approx(
        [632, 593, 593, 684], abs=5
    )


@pytest.mark.parametrize(
    ("family_name", "temperatures", "cold"),
    [
        ("90-expansion", {}, []),
        ("96-expansion", {}, []),
        ("float", {"full_fuse_c": 850}, []),
        ("float", {"full_fuse_c": 816}, ["full fuse"]),
        ("float", {"full_fuse_c": 816, "enamel_c": 580}, ["full fuse", "enamel"]),
        ("borosilicate-3.3", {"full_fuse_c": 816}, ["full fuse", "enamel"]),
    ],
)
def test_what_is_fired_far_too_cold_for_its_family_is_told(
    family_name, temperatures, cold
):
    glass = plain.glass(family=family_name, **temperatures)
    told = too_cold(glass, plain.viewer())
    assert len(told) == len(cold)
    for words, sentence in zip(cold, told, strict=True):
        assert words in sentence
        assert sentence.endswith("Raise it, or fire a test first.")


def test_a_soak_far_off_is_told_in_degrees_of_the_reader():
    (celsius,) = problems(anneal_soak_c=200)
    assert celsius.startswith(
        "The anneal soak is 200 °C and the annealing point 516 °C"
    )
    (fahrenheit,) = problems(anneal_soak_c=200, in_fahrenheit=True)
    assert fahrenheit.startswith("The anneal soak is 392 °F")


def test_points_in_the_wrong_order_are_told_by_the_forms_names():
    (told,) = problems(strain_point_c=516, annealing_point_c=500, anneal_soak_c=490)
    assert told.startswith("The strain point is 516 °C and the annealing point 500 °C")
    assert "strain, annealing, softening point" in told


def test_an_expansion_is_told_in_the_unit_of_data_sheets():
    (told,) = problems(expansion_1e7_per_k=104.0)
    assert "104" in told
    assert "e-0" not in told, "never as a power of ten"


def test_the_family_is_looked_at_before_the_rest():
    both = {"expansion_1e7_per_k": 33.0, "anneal_soak_c": 200}
    (told,) = problems(**both)
    assert "contradicts the family" in told
    assert problems(family=GlassFamily.EXPANSION_90, anneal_soak_c=200) != [told]


def test_the_check_is_one_of_those_that_the_glasss_form_runs():
    odd = plain.glass(density_kg_m3=2.5)
    (told,) = glass_problems(odd, plain.viewer())
    assert told.startswith("The density is 2.5 kg/m³; a kiln glass lies between")
