"""A sheet cut for a layer, with every pass that is planned on it."""

import pytest
from django.db import IntegrityError, transaction

from studio.models import Sheet
from studio.services.sheets import cut_sheet
from tests import make
from tests.make import NOW


@pytest.fixture
def piece(cast):
    """Two layers with three passes each, and a clear cap."""
    return make.piece(studio=cast.studio, glass=cast.glass, passes=3)


def uncut(piece, number):
    """Return a layer whose first sheet lies aside."""
    layer = piece.layers.get(number=number)
    layer.sheets.update(set_aside_at=NOW, set_aside_reason="Cracked")
    return layer


def test_a_sheet_has_every_planned_pass_from_one_on_and_none_is_painted(cast, piece):
    sheet = cut_sheet(layer=uncut(piece, 1), attempt=2, at=NOW)
    assert (sheet.attempt, sheet.made_at, sheet.studio) == (2, NOW, cast.studio)
    passes = sheet.passes.order_by("number")
    assert [(one.number, one.painted_at) for one in passes] == [
        (1, None),
        (2, None),
        (3, None),
    ]
    assert {one.studio for one in passes} == {cast.studio}


def test_the_sheet_before_keeps_its_passes(piece):
    layer = uncut(piece, 1)
    cut_sheet(layer=layer, attempt=2, at=NOW)
    assert [sheet.passes.count() for sheet in layer.sheets.order_by("attempt")] == [
        3,
        3,
    ]


def test_clear_glass_is_cut_without_passes(piece):
    sheet = cut_sheet(layer=uncut(piece, 3), attempt=2, at=NOW)
    assert sheet.passes.count() == 0


def test_a_layer_has_one_sheet_in_use(piece):
    layer = piece.layers.get(number=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        cut_sheet(layer=layer, attempt=2, at=NOW)
    assert Sheet.across_studios.filter(layer=layer).count() == 1
