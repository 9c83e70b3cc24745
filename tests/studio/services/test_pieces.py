"""Pieces: planned, stacked, fired, finished, lost; every rule that refuses."""

import datetime as dt
import re

import pytest
from django.db import IntegrityError, transaction

from studio.errors import Refused
from studio.models import (
    GlassFamily,
    HistoryEntry,
    PieceEvent,
    Sheet,
    Technique,
)
from studio.selectors.edges import edge_of
from studio.selectors.pieces import (
    finished_pieces,
    fresh,
    open_pieces,
    pieces_in_work,
)
from studio.services import pieces as services
from studio.services.pieces import LayerPlan, StackNotRight
from studio.stages import Stage
from tests import make
from tests.cast import NOW

LATER = NOW + dt.timedelta(days=1)


@pytest.fixture
def piece(cast):
    """Nine layers of 3 mm, one of them a cap."""
    return make.piece(studio=cast.studio, glass=cast.glass, layers=9, by=cast.maker)


@pytest.fixture
def ready(piece):
    make.paint_and_fire(piece)
    return piece


def check(piece, **changes):
    said = {
        "layers_counted": 9,
        "measured_height_mm": 27.6,
        "is_order_right": True,
        "by": None,
        "at": LATER,
    }
    return services.check_stack(piece=piece, **(said | changes))


def into_kiln(piece, kind="full fuse", at=LATER):
    return services.note_into_kiln(
        piece=piece,
        firing_kind=kind,
        by=None,
        at=at,
    )


def out_of_kiln(piece, outcome="fine", kind="full fuse", at=LATER):
    return services.note_out_of_kiln(
        piece=piece, firing_kind=kind, outcome=outcome, by=None, at=at
    )


def told(piece):
    return list(HistoryEntry.across_studios.filter(piece=piece).order_by("pk"))


def test_planning_cuts_a_sheet_with_its_passes_for_every_layer(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=4, passes=2, caps=1)
    view = fresh(piece)
    assert [one.number for one in view.layers] == [1, 2, 3, 4]
    assert [len(one.passes) for one in view.layers] == [2, 2, 2, 0]
    assert view.layers[3].layer.technique == Technique.CLEAR
    assert Sheet.across_studios.filter(layer__piece=piece).count() == 4
    assert view.stage is Stage.PLANNED
    assert view.stack_height_mm == 12
    assert told(piece)[0].what == "Planned Low water at the sluice with 4 layers"


def plan(cast, layers):
    return services.plan_piece(
        studio=cast.studio,
        title="Shoal",
        width_mm=300,
        height_mm=200,
        glass=cast.glass,
        layers=layers,
        by=None,
        at=NOW,
    )


def test_a_piece_without_layers_is_refused(cast):
    with pytest.raises(Refused, match="at least one layer"):
        plan(cast, [])


def test_glass_of_two_families_is_refused_and_nothing_is_kept(cast):
    other = make.glass(studio=cast.studio, family=GlassFamily.FLOAT)
    with pytest.raises(Refused, match="must not be fused together") as refusal:
        plan(
            cast,
            [
                LayerPlan(technique=Technique.PAINTED, passes=1, glass=glass)
                for glass in (cast.glass, other)
            ],
        )
    told = str(refusal.value)
    assert "Layer 2 is of" in told
    assert "(Soda-lime float), layer 1 of" in told
    assert "stiffen at different temperatures" in told, "by name they shrink alike"
    assert open_pieces(cast.studio) == []


def test_two_glasses_of_one_family_go_together(cast):
    other = make.glass(studio=cast.studio)
    piece = plan(
        cast,
        [
            LayerPlan(technique=Technique.PAINTED, passes=1, glass=glass)
            for glass in (cast.glass, other)
        ],
    )
    assert len(fresh(piece).layers) == 2


def test_a_good_stack_is_recorded_with_its_height(ready):
    assert fresh(ready).stage is Stage.READY_TO_STACK
    check(ready, note="Level on all sides")
    view = fresh(ready)
    assert view.stage is Stage.STACKED
    assert view.measured_height_mm == 27.6
    assert view.height_mm == 27.6
    assert view.events[0].note == "Level on all sides"
    # The studio prints inches.
    assert told(ready)[-1].what == "Checked the stack: 9 layers, 1.09 in high"


def test_a_stack_may_be_checked_again_and_the_last_height_counts(ready):
    check(ready)
    check(ready, measured_height_mm=28, at=LATER + dt.timedelta(hours=1))
    assert fresh(ready).height_mm == 28


@pytest.mark.parametrize("height_mm", [27 * 0.8501, 27 * 1.1499])
def test_heights_within_the_tolerance_pass(ready, height_mm):
    check(ready, measured_height_mm=height_mm)
    assert fresh(ready).stage is Stage.STACKED


@pytest.mark.parametrize("height_mm", [27 * 0.8499, 27 * 1.1501, 0.1])
def test_a_height_that_cannot_be_is_refused_in_the_studios_unit(ready, height_mm):
    with pytest.raises(StackNotRight, match=r"about 1\.06 in high, you measured"):
        check(ready, measured_height_mm=height_mm)
    assert fresh(ready).events == ()


def test_all_that_is_wrong_with_a_stack_is_said_at_once(piece):
    make.layer_services.record_painted(
        passes=make.passes_of(piece)[:1], by=None, at=NOW
    )
    with pytest.raises(StackNotRight) as refusal:
        check(piece, layers_counted=8, measured_height_mm=60, is_order_right=False)
    first, second, third, fourth = refusal.value.problems
    assert first.startswith("Not done yet: layer 1, 2, 3, 4, 5, 6, 7, 8.")
    assert second.startswith("The plan has 9 layers, you counted 8.")
    assert "you measured" in third
    assert fourth == "Put the layers in order first: 1 at the back."
    assert not PieceEvent.across_studios.filter(piece=piece).exists()


def test_a_mixed_stack_is_refused_with_how_hard_it_would_pull(cast):
    """Two layers held flat, by hand: M/2 (9.6 - 9.0)e-6 (486 - 20) K for halves."""
    other = make.glass(studio=cast.studio, family=GlassFamily.EXPANSION_96)
    with pytest.raises(Refused, match="must not be fused together") as refusal:
        plan(
            cast,
            [
                LayerPlan(technique=Technique.PAINTED, passes=1, glass=glass)
                for glass in (cast.glass, cast.glass, other, other)
            ],
        )
    told = str(refusal.value)
    assert "Layers 3, 4 are of" in told or "Layers 1, 2 are of" in told
    both = [float(found) for found in re.findall(r"([\d.]+) MPa", told)]
    plane_mpa = 70e3 / (1 - 0.22)
    largest = plane_mpa * 0.6e-6 * (486 - 20)
    assert both[0] == pytest.approx(largest / 2, rel=0.05)
    assert both[1] == pytest.approx(largest, rel=0.05)
    assert both[2] == 0.5


def test_a_sheet_s_own_data_sheet_can_refuse_it_within_a_family(cast):
    """Of one family by name, and 4e-7 per kelvin apart by their data sheets."""
    odd = make.glass(studio=cast.studio, expansion_1e7_per_k=93.5)
    with pytest.raises(Refused, match="must not be fused together"):
        plan(
            cast,
            [
                LayerPlan(technique=Technique.PAINTED, passes=1, glass=glass)
                for glass in (cast.glass, odd)
            ],
        )


def test_a_glass_changed_to_another_family_meanwhile_is_caught_at_the_stack(
    cast, ready
):
    other = make.glass(studio=cast.studio, family=GlassFamily.EXPANSION_96)
    ready.layers.filter(number=3).update(glass=other)
    with pytest.raises(StackNotRight, match="must not be fused together"):
        check(ready)


def test_a_piece_that_nobody_began_cannot_be_stacked(piece):
    with pytest.raises(Refused, match="cannot be stacked: planned"):
        check(piece)


def test_a_stack_in_the_kiln_or_beyond_is_not_checked(ready):
    check(ready)
    into_kiln(ready)
    with pytest.raises(Refused, match="cannot be stacked: in the kiln"):
        check(ready)
    out_of_kiln(ready)
    with pytest.raises(Refused, match="cannot be stacked: out of the kiln"):
        check(ready)


def test_the_kiln_takes_only_a_checked_stack_and_only_once(ready):
    with pytest.raises(Refused, match="Check the stack"):
        into_kiln(ready)
    check(ready)
    into_kiln(ready)
    view = fresh(ready)
    assert view.stage is Stage.IN_KILN
    with pytest.raises(Refused, match="cannot go into a kiln: in the kiln"):
        into_kiln(ready)


def test_nothing_comes_out_of_a_kiln_that_was_not_in_one(ready):
    check(ready)
    with pytest.raises(Refused, match="is in no kiln"):
        out_of_kiln(ready)


@pytest.mark.parametrize(
    ("kind", "outcome", "stage", "is_fused"),
    [
        ("full fuse", "fine", Stage.TO_INSPECT, True),
        ("full fuse", "redo", Stage.FIRE_AGAIN, True),
        ("full fuse", "cracked", Stage.CRACKED, True),
        ("tack fuse", "fine", Stage.TACKED, False),
    ],
)
def test_how_a_firing_left_a_piece(ready, kind, outcome, stage, is_fused):
    check(ready)
    into_kiln(ready, kind)
    assert not fresh(ready).is_fused
    out_of_kiln(ready, outcome, kind)
    view = fresh(ready)
    assert view.stage is stage
    assert view.is_fused is is_fused
    assert edge_of(view).fused is is_fused


def test_an_unknown_outcome_is_refused_before_anything_is_written(ready):
    check(ready)
    into_kiln(ready)
    with pytest.raises(ValueError, match="wonderful"):
        out_of_kiln(ready, "wonderful")
    assert fresh(ready).stage is Stage.IN_KILN


def fuse(piece):
    check(piece)
    into_kiln(piece)
    out_of_kiln(piece)


def test_only_a_piece_that_came_out_well_can_be_finished(cast, ready):
    with pytest.raises(Refused, match="cannot be finished yet: all layers done"):
        services.finish_piece(piece=ready, by=cast.maker, at=LATER)
    fuse(ready)
    services.finish_piece(piece=ready, by=cast.maker, at=LATER, note="Clear edges")
    view = fresh(ready)
    assert view.stage is Stage.FINISHED
    assert view.is_closed
    assert view.events[-1].note == "Clear edges"
    assert told(ready)[-1].by == cast.maker
    with pytest.raises(Refused, match="finished"):
        services.finish_piece(piece=ready, by=cast.maker, at=LATER)


def test_a_piece_can_be_lost_at_any_time_but_in_the_kiln_and_afterwards(ready):
    check(ready)
    into_kiln(ready)
    with pytest.raises(Refused, match="cannot be marked as lost: in the kiln"):
        services.mark_lost(piece=ready, by=None, at=LATER, note="Gone")
    out_of_kiln(ready, "cracked")
    services.mark_lost(piece=ready, by=None, at=LATER, note="In two halves")
    assert fresh(ready).stage is Stage.LOST
    assert told(ready)[-1].what == "Lost: In two halves"
    with pytest.raises(Refused, match="cannot be marked as lost: lost"):
        services.mark_lost(piece=ready, by=None, at=LATER, note="Again")
    with pytest.raises(Refused, match="cannot go into a kiln: lost"):
        into_kiln(ready)


def test_a_loss_without_a_reason_is_refused(piece):
    with pytest.raises(Refused, match="Say how"):
        services.mark_lost(piece=piece, by=None, at=LATER, note="  ")


def test_the_database_knows_the_same_closed_pieces_as_the_stages(cast):
    def made(title):
        return make.piece(studio=cast.studio, glass=cast.glass, layers=2, title=title)

    planned, lost, finished, refired = map(made, ["a", "b", "c", "d"])
    services.mark_lost(piece=lost, by=None, at=LATER, note="Dropped")
    for piece in (finished, refired):
        make.paint_and_fire(piece)
        check(piece, layers_counted=2, measured_height_mm=6)
        into_kiln(piece)
        out_of_kiln(piece)
        services.finish_piece(piece=piece, by=None, at=LATER)
    # An old piece goes back into the kiln: it is in work again.
    into_kiln(refired, at=LATER + dt.timedelta(days=9))
    assert set(pieces_in_work(cast.studio)) == {planned, refired}
    assert {v.piece for v in open_pieces(cast.studio)} == {planned, refired}
    assert set(finished_pieces(cast.studio)) == {finished}


def test_constraints_hold_whatever_the_code_does(cast, piece):
    with pytest.raises(IntegrityError), transaction.atomic():
        PieceEvent.across_studios.create(
            studio=cast.studio, piece=piece, kind="stack checked", at=NOW
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        PieceEvent.across_studios.create(
            studio=cast.studio, piece=piece, kind="out of kiln", at=NOW
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        piece.layers.filter(number=9).update(planned_passes=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        piece.layers.filter(number=2).update(number=1)
