"""What a quote is for: its stacks, its maquette, and the facts in words."""

from dataclasses import replace

import pytest

from commissions.selectors.work import CommissionWork, about_length, work_facts
from tests.commissions import build

WORK = CommissionWork(
    title="Slack water",
    width_mm=300,
    height_mm=200,
    layer_count=6,
    cap_count=2,
    technique="painted",
    passes_per_layer=2,
    glass_id=1,
    glass_name="Clear sheet",
    sheet_thickness_mm=3,
    is_dammed=True,
    maquette_layer_count=3,
    maquette_width_mm=150,
    maquette_height_mm=100,
)
ALONE = replace(WORK, maquette_layer_count=0)


def test_a_stack_is_its_images_and_its_caps():
    piece, maquette = WORK.parts
    assert (piece.name, maquette.name) == ("piece", "maquette")
    assert piece.painted_count == 4
    assert piece.area_m2 == pytest.approx(0.06)
    assert WORK.thickness_mm == 18


@pytest.mark.parametrize(("layers", "caps"), [(1, 0), (2, 1), (3, 2), (4, 2)])
def test_a_maquette_keeps_its_caps_but_for_one_image(layers, caps):
    maquette = replace(WORK, maquette_layer_count=layers).maquette
    assert maquette.cap_count == caps
    assert maquette.painted_count == layers - caps >= 1


@pytest.mark.parametrize(
    "lacking",
    [
        {"maquette_layer_count": 0},
        {"maquette_width_mm": None},
        {"maquette_height_mm": None},
    ],
)
def test_a_maquette_needs_layers_and_both_sides(lacking):
    work = replace(WORK, **lacking)
    assert work.maquette is None
    assert work.parts == (work.piece,)


def test_the_facts_survive_being_frozen_and_the_glass_is_not_the_commissions():
    assert CommissionWork.from_json(WORK.as_json()) == WORK
    assert WORK.as_json().keys() - WORK.of_commission.keys() == {
        "glass_name",
        "sheet_thickness_mm",
    }


def test_the_facts_are_the_commissions_own_and_its_glass(cast):
    commission = build.commission(cast, **build.maquette())
    work = CommissionWork.of(commission)
    assert work.glass_name == cast.glass.name
    assert work.sheet_thickness_mm == cast.glass.sheet_thickness_mm
    assert all(getattr(commission, k) == v for k, v in work.of_commission.items())


def test_an_approximate_length_is_whole_mm_or_eighths_of_an_inch(cast, strangers):
    assert about_length(17.6, strangers.viewer()) == "18 mm"
    assert about_length(0.2, strangers.viewer()) == "1 mm"
    # 18 mm are 0.709 in: nearer to six eighths than to five.
    assert about_length(18, cast.viewer()) == "3/4 in"
    assert about_length(0.2, cast.viewer()) == "1/8 in"


def test_what_will_be_made_is_said_in_words(strangers):
    facts = dict(work_facts(WORK, strangers.viewer()))
    assert facts == {
        "Size": "300 × 200 mm",
        "Thickness": "about 18 mm",
        "Layers": "6, of which 2 clear at the front",
        "Image": "Painted, 2 passes each",
        "Glass": "Clear sheet",
        "Maquette first": "150 × 100 mm, 3 layers",
    }
    plain = replace(ALONE, cap_count=0, passes_per_layer=1)
    facts = dict(work_facts(plain, strangers.viewer()))
    assert facts["Layers"] == "6 in glass"
    assert facts["Image"].endswith("1 pass each")
    assert "Maquette first" not in facts
