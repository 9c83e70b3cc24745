"""Glass and materials in stock: what may be used first, and only this studio's."""

import pytest

from studio.models import Material, MaterialKind
from studio.selectors.stock import glasses, glasses_in_use, materials, paints
from tests import make


def glass(studio, name, *, is_retired=False):
    made = make.glass(studio=studio, name=name)
    made.is_retired = is_retired
    made.save()
    return made


def material(studio, name, *, kind=MaterialKind.ENAMEL, is_retired=False):
    return Material.across_studios.create(
        studio=studio,
        name=name,
        kind=kind,
        unit="g",
        cost_per_unit=1,
        is_retired=is_retired,
    )


def names(rows):
    return [row.name for row in rows]


def test_glass_comes_by_name_and_what_is_no_longer_bought_last(cast, strangers):
    cast.glass.delete()
    glass(cast.studio, "Alder", is_retired=True)
    glass(cast.studio, "Birch")
    glass(cast.studio, "Ash")
    glass(strangers.studio, "Aspen")
    assert names(glasses(cast.studio)) == ["Ash", "Birch", "Alder"]
    assert names(glasses_in_use(cast.studio)) == ["Ash", "Birch"]


@pytest.fixture
def shelf(cast, strangers):
    """Materials of several kinds, one retired, one another studio's."""
    material(cast.studio, "Umber")
    material(cast.studio, "Grey")
    material(cast.studio, "Azure", is_retired=True)
    material(cast.studio, "Herons", kind=MaterialKind.DECAL)
    for kind in set(MaterialKind) - {MaterialKind.ENAMEL, MaterialKind.DECAL}:
        material(cast.studio, f"Some {kind}", kind=kind)
    material(strangers.studio, "Black")


def test_materials_come_by_kind_and_name_and_what_is_no_longer_bought_last(cast, shelf):
    found = list(materials(cast.studio))
    assert found[-1].name == "Azure"
    kept = [(row.kind, row.name) for row in found[:-1]]
    assert kept == sorted(kept)
    assert len(kept) == len(MaterialKind) + 1
    assert "Black" not in names(found)


def test_a_pass_is_painted_with_an_enamel_or_a_decal_still_in_stock(cast, shelf):
    assert names(paints(cast.studio)) == ["Herons", "Grey", "Umber"]
