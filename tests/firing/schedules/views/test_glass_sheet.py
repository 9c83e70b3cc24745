"""A glass's data sheet is refused in the form if the physics cannot accept it."""

import pytest
from django.urls import reverse

from firing.physics.glass.families import refuse_other_family
from firing.physics.glass.properties import GlassProblem
from firing.schedules.selectors.physics_slabs import physics_glass
from studio.models import Glass
from tests.firing.pages import text_of

SHEET = {
    "name": "Saltmarsh clear",
    "family": "90-expansion",
    "sheet_thickness_mm": "3 mm",
    "density_kg_m3": "2.5",
    "strain_point_c": "486 C",
    "anneal_soak_c": "482 C",
    "annealing_point_c": "516 C",
    "expansion_1e7_per_k": "90",
    "enamel_c": "593 C",
    "full_fuse_c": "815 C",
    "cost_per_m2": "90",
}


def saved(cast):
    return Glass.owned.for_studio(cast.studio).filter(name=SHEET["name"])


def test_a_sound_sheet_is_kept_and_computed_with(cast, signed_in):
    answer = signed_in().post(
        reverse("studio:glass_new"), SHEET | {"expansion_1e7_per_k": "91"}
    )
    assert answer.status_code == 302, text_of(answer)
    assert physics_glass(saved(cast).get()).expansion_glass_per_k == pytest.approx(
        9.1e-6
    )


def test_without_its_makers_annealing_point_a_glass_has_its_familys(cast, signed_in):
    sent = SHEET | {"annealing_point_c": ""}
    assert signed_in().post(reverse("studio:glass_new"), sent).status_code == 302
    glass = saved(cast).get()
    assert glass.annealing_point_c is None
    assert physics_glass(glass).annealing_point_c == 516
    page = text_of(signed_in().get(reverse("studio:stock")))
    assert "907 °F 1099 °F" in page


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"annealing_point_c": "480 C", "anneal_soak_c": "470 C"},
            "The strain point is 907 °F and the annealing point 896 °F",
        ),
        ({"anneal_soak_c": ""}, "it is not guessed"),
        ({"anneal_soak_c": "200 C"}, "The anneal soak is 392 °F"),
        ({"anneal_soak_c": "560 C"}, "54 °F above it"),
        ({"expansion_1e7_per_k": "900"}, "contradicts the family 90-expansion"),
        ({"expansion_1e7_per_k": "96"}, "nearer to 96-expansion"),
        ({"expansion_1e7_per_k": "0"}, "nearer to borosilicate-3.3"),
        ({"expansion_1e7_per_k": "-5"}, "contradicts the family"),
        ({"family": "borosilicate-3.3", "expansion_1e7_per_k": "90"}, "contradicts"),
        ({"density_kg_m3": "2500"}, "Write the weight compared with water"),
        ({"annealing_point_c": "100 C", "strain_point_c": "90 C"}, "annealing point"),
    ],
)
def test_an_implausible_sheet_is_refused_with_the_reason(
    cast, signed_in, changes, said
):
    answer = signed_in().post(reverse("studio:glass_new"), SHEET | changes)
    assert answer.status_code == 422
    page = text_of(answer)
    assert said in page
    assert not saved(cast).exists()
    for name, typed in changes.items():
        if typed and name != "family":
            assert f'value="{typed}"' in answer.content.decode()


def test_an_expansion_that_is_left_empty_is_the_familys(cast, signed_in):
    sheet = SHEET | {"expansion_1e7_per_k": ""}
    assert signed_in().post(reverse("studio:glass_new"), sheet).status_code == 302
    assert physics_glass(saved(cast).get()).expansion_glass_per_k == pytest.approx(9e-6)


def test_families_are_told_apart_by_their_expansion():
    for name, per_k in (("90-expansion", 9.1e-6), ("float", 9.0e-6), ("float", 8.9e-6)):
        refuse_other_family(name, per_k)
    with pytest.raises(GlassProblem, match="nearer to"):
        refuse_other_family("96-expansion", 9.0e-6)
    with pytest.raises(GlassProblem, match="contradicts"):
        refuse_other_family("borosilicate-3.3", float("nan"))
