"""Layers: painted, taken back, fired, judged, made again; the past stays."""

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from firing.firings.services import firings
from studio.errors import Refused
from studio.models import GlassFamily, HistoryEntry, Material, Pass, Sheet
from studio.selectors.pieces import fresh, layer_view
from studio.services import layers as services
from studio.services.pieces import check_stack, mark_lost
from studio.stages import LayerState, Stage
from tests import make
from tests.cast import NOW


@pytest.fixture
def piece(cast):
    """Layers 1 and 2 with two passes each, layer 3 a cap."""
    return make.piece(studio=cast.studio, glass=cast.glass, layers=3, passes=2)


def of(piece, number):
    return layer_view(fresh(piece), number)


def the_pass(piece, layer, number):
    return next(
        p
        for p in make.passes_of(piece)
        if p.sheet.layer.number == layer and p.number == number
    )


def paint(piece, layer, number, **said):
    services.record_painted(
        passes=[the_pass(piece, layer, number)], by=None, at=NOW, **said
    )


def fire(piece, layer, number, outcome="fine"):
    services.record_outcome(
        of_pass=the_pass(piece, layer, number), outcome=outcome, by=None, at=NOW
    )


def test_several_layers_are_recorded_at_once(cast, piece):
    enamel = Material.across_studios.create(
        studio=cast.studio, name="Grey", kind="enamel", unit="g", cost_per_unit=1
    )
    passes = [the_pass(piece, 1, 1), the_pass(piece, 2, 1)]
    services.record_painted(
        passes=passes,
        by=cast.helper,
        at=NOW,
        minutes=45,
        materials=[enamel],
        note="Two coats",
    )
    painted = Pass.across_studios.get(pk=passes[1].pk)
    assert painted.painted_at == NOW
    assert painted.painted_by == cast.helper
    assert (painted.minutes, painted.note) == (45, "Two coats")
    assert list(painted.materials.all()) == [enamel]
    assert of(piece, 1).state is LayerState.PAINTED
    assert of(piece, 1).pass_to_fire == passes[0]
    assert of(piece, 1).pass_to_paint is None
    assert fresh(piece).stage is Stage.PAINTING
    line = HistoryEntry.across_studios.order_by("-pk").first()
    assert line.what == "Painted layer 1 pass 1, 2 pass 1"
    assert line.by == cast.helper


@pytest.mark.django_db
def test_nothing_ticked_is_refused():
    with pytest.raises(Refused, match="at least one"):
        services.record_painted(passes=[], by=None, at=NOW)


def test_passes_are_painted_in_order_and_once(piece):
    with pytest.raises(Refused, match="pass 2 .* not waiting to be painted"):
        paint(piece, 1, 2)
    paint(piece, 1, 1)
    with pytest.raises(Refused, match="pass 1 .* not waiting to be painted"):
        paint(piece, 1, 1)
    with pytest.raises(Refused, match="an earlier pass must be fired first"):
        paint(piece, 1, 2)
    fire(piece, 1, 1)
    assert of(piece, 1).state is LayerState.NEXT_PASS
    paint(piece, 1, 2)
    fire(piece, 1, 2)
    assert of(piece, 1).state is LayerState.BURNT
    assert of(piece, 1).next_pass is None


def test_one_pass_that_may_not_be_painted_keeps_all_from_being_recorded(piece):
    with pytest.raises(Refused):
        services.record_painted(
            passes=[the_pass(piece, 1, 1), the_pass(piece, 2, 2)], by=None, at=NOW
        )
    assert of(piece, 1).state is LayerState.PLANNED


def test_passes_of_another_piece_are_not_waiting_here(cast, piece):
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Other")
    with pytest.raises(Refused, match="of Other is not waiting"):
        services.record_painted(
            passes=[the_pass(piece, 1, 1), the_pass(other, 1, 1)], by=None, at=NOW
        )


def test_another_studios_material_or_pass_is_an_error(cast, strangers, piece):
    theirs = Material.across_studios.create(
        studio=strangers.studio, name="Grey", kind="enamel", unit="g", cost_per_unit=1
    )
    with pytest.raises(ValueError, match="another studio"):
        paint(piece, 1, 1, materials=[theirs])
    foreign = make.piece(studio=strangers.studio, glass=strangers.glass)
    with pytest.raises(ValueError, match="another studio"):
        services.record_painted(
            passes=[the_pass(piece, 1, 1), the_pass(foreign, 1, 1)], by=None, at=NOW
        )


def test_a_lost_piece_is_not_painted_any_more(piece):
    mark_lost(piece=piece, by=None, at=NOW, note="Dropped")
    with pytest.raises(Refused, match="is lost: nothing is painted any more"):
        paint(piece, 1, 1)


def test_painting_is_taken_back_with_all_that_was_said_of_it(cast, piece):
    enamel = Material.across_studios.create(
        studio=cast.studio, name="Grey", kind="enamel", unit="g", cost_per_unit=1
    )
    paint(piece, 1, 1, minutes=30, materials=[enamel], note="Oops")
    services.take_back_painting(of_pass=the_pass(piece, 1, 1), by=None, at=NOW)
    back = the_pass(piece, 1, 1)
    assert back.painted_at is None
    assert (back.minutes, list(back.materials.all()), back.note) == (None, [], "")
    assert of(piece, 1).state is LayerState.PLANNED
    line = HistoryEntry.across_studios.order_by("-pk").first()
    assert line.what == ("Layer 1, pass 1 is not painted after all (30 min, “Oops”)")


def test_only_a_painted_pass_that_waits_can_be_taken_back(piece):
    with pytest.raises(Refused, match="not a painted pass that waits"):
        services.take_back_painting(of_pass=the_pass(piece, 1, 1), by=None, at=NOW)
    paint(piece, 1, 1)
    fire(piece, 1, 1)
    with pytest.raises(Refused, match="not a painted pass that waits"):
        services.take_back_painting(of_pass=the_pass(piece, 1, 1), by=None, at=NOW)


def test_the_past_of_a_sheet_that_was_set_aside_is_not_rewritten(piece):
    paint(piece, 1, 1)
    painted = the_pass(piece, 1, 1)
    services.make_again(layer=of(piece, 1).layer, reason="Scratched", by=None, at=NOW)
    with pytest.raises(Refused, match="not a painted pass that waits"):
        services.take_back_painting(of_pass=painted, by=None, at=NOW)
    assert Pass.across_studios.get(pk=painted.pk).painted_at == NOW


def test_an_outcome_needs_paint_and_comes_once(piece):
    with pytest.raises(Refused, match="was not painted"):
        fire(piece, 1, 1)
    paint(piece, 1, 1)
    fire(piece, 1, 1)
    with pytest.raises(Refused, match="has its outcome already: Fine"):
        fire(piece, 1, 1, "cracked")
    paint(piece, 2, 1)
    with pytest.raises(ValueError, match="splendid"):
        fire(piece, 2, 1, "splendid")


def test_fire_again_puts_a_repeat_right_after_and_moves_the_rest(piece):
    paint(piece, 1, 1)
    fire(piece, 1, 1, "redo")
    own = of(piece, 1)
    assert [(p.number, p.outcome, p.is_repeat) for p in own.passes] == [
        (1, "redo", False),
        (2, "", True),
        (3, "", False),
    ]
    assert own.state is LayerState.NEXT_PASS
    for number in (2, 3):
        paint(piece, 1, number)
        fire(piece, 1, number)
    assert of(piece, 1).state is LayerState.BURNT


def test_a_repeat_may_itself_be_repeated(piece):
    for number in (1, 2):
        paint(piece, 1, number)
        fire(piece, 1, number, "redo")
    assert [p.number for p in of(piece, 1).passes] == [1, 2, 3, 4]


def test_a_cracked_sheet_is_set_aside_and_the_layer_waits(piece):
    paint(piece, 1, 1)
    fire(piece, 1, 1, "cracked")
    own = of(piece, 1)
    assert own.state is LayerState.REMAKE
    assert own.sheet is None
    assert own.next_pass is None
    assert own.earlier_sheets[0].set_aside_reason == "Cracked in pass 1"
    assert fresh(piece).stage is Stage.PAINTING


def test_made_again_after_a_crack_on_a_new_sheet(cast, piece):
    paint(piece, 1, 1)
    fire(piece, 1, 1, "cracked")
    sheet = services.make_again(
        layer=of(piece, 1).layer, reason="Cracked", by=cast.helper, at=NOW
    )
    own = of(piece, 1)
    assert own.sheet == sheet
    assert sheet.attempt == 2
    assert own.state is LayerState.REMAKE
    assert [p.outcome for p in own.passes] == ["", ""]
    # The first sheet and what happened to it are still there.
    assert [p.outcome for p in own.earlier_sheets[0].passes.all()] == ["cracked", ""]
    paint(piece, 1, 1)
    assert of(piece, 1).state is LayerState.PAINTED


def test_a_whole_sheet_may_be_given_up_with_a_reason(piece):
    services.make_again(
        layer=of(piece, 3).layer, reason="  Scratched ", by=None, at=NOW
    )
    own = of(piece, 3)
    assert own.state is LayerState.CLEAR
    assert own.sheet.attempt == 2
    assert own.earlier_sheets[0].set_aside_reason == "Scratched"
    line = HistoryEntry.across_studios.order_by("-pk").first()
    assert line.what == "Layer 3 is made again (sheet 2): Scratched"


def test_made_again_without_a_reason_is_refused(piece):
    with pytest.raises(Refused, match="Say why"):
        services.make_again(layer=of(piece, 1).layer, reason=" ", by=None, at=NOW)


def test_a_stacked_pieces_layers_stay(piece):
    make.paint_and_fire(piece)
    check_stack(
        piece=piece,
        layers_counted=3,
        measured_height_mm=9,
        is_order_right=True,
        by=None,
        at=NOW,
    )
    with pytest.raises(Refused, match="past painting"):
        services.make_again(layer=of(piece, 1).layer, reason="No", by=None, at=NOW)


def test_one_sheet_in_use_per_layer_by_the_database_itself(cast, piece):
    with pytest.raises(IntegrityError), transaction.atomic():
        Sheet.across_studios.create(
            studio=cast.studio, layer=of(piece, 1).layer, attempt=2, made_at=NOW
        )


def test_a_pass_cannot_be_fired_unpainted_by_the_database_itself(piece):
    with pytest.raises(IntegrityError), transaction.atomic():
        Pass.across_studios.filter(pk=the_pass(piece, 1, 1).pk).update(
            outcome="fine", fired_at=NOW
        )


def test_a_layer_is_renamed_and_the_history_tells(piece):
    layer = of(piece, 1).layer
    services.change_layer(layer=layer, title="Far shore", by=None, at=NOW)
    assert str(of(piece, 1).layer) == "Layer 1: Far shore"
    line = HistoryEntry.across_studios.order_by("-pk").first()
    assert line.what == "Renamed Layer 1 to Layer 1: Far shore"
    count = HistoryEntry.across_studios.count()
    services.change_layer(layer=layer, title="Far shore", by=None, at=NOW)
    assert HistoryEntry.across_studios.count() == count


def test_what_lies_in_a_load_is_neither_taken_back_nor_given_up(cast, piece):
    paint(piece, 1, 1)
    of_pass = the_pass(piece, 1, 1)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=[of_pass],
        starts_at=NOW + dt.timedelta(hours=4),
        by=None,
        at=NOW,
    )
    with pytest.raises(Refused, match="lies in a load"):
        services.take_back_painting(of_pass=of_pass, by=None, at=NOW)
    with pytest.raises(Refused, match="lies in a load"):
        services.make_again(layer=of(piece, 1).layer, reason="X", by=None, at=NOW)
    firings.cancel_firing(firing=firing, reason="No helper", by=None, at=NOW)
    services.take_back_painting(of_pass=of_pass, by=None, at=NOW)
    assert of(piece, 1).state is LayerState.PLANNED


def test_a_layer_takes_another_glass_until_it_is_painted(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=3)
    layer = piece.layers.get(number=1)
    like = make.glass(studio=cast.studio)
    services.change_layer(layer=layer, title="", glass=like, by=None, at=NOW)
    assert piece.layers.get(number=1).glass == like
    odd = make.glass(studio=cast.studio, family=GlassFamily.EXPANSION_96)
    with pytest.raises(Refused, match="MPa in this stack") as refusal:
        services.change_layer(layer=layer, title="", glass=odd, by=None, at=NOW)
    assert "Layer 1 is of" in str(refusal.value)
    assert piece.layers.get(number=1).glass == like
