"""Whether the model takes a glass's data sheet: its refusals in the reader's units."""

import pytest

from firing.schedules.selectors.glass_sheet import data_sheet_problems
from studio.models import GlassFamily
from studio.selectors.glass_checks import glass_problems
from tests import plain


def problems(*, in_fahrenheit=False, **changes):
    viewer = plain.viewer(in_fahrenheit=in_fahrenheit)
    return data_sheet_problems(plain.glass(**changes), viewer)


@pytest.mark.parametrize("expansion", [None, 90.0, 91.0])
def test_a_sound_sheet_has_no_problem(expansion):
    assert problems(expansion_1e7_per_k=expansion) == []


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
