"""Stopped work leaves the bench, the plan and the kilns; a hot kiln goes on."""

import datetime as dt

import pytest

from firing.firings.selectors.today import kilns_today
from firing.firings.services import firings, running
from firing.firings.services.stopping import stop_work
from firing.loads.selectors.loads import waiting_passes
from firing.models import Booking, PlannedFiring
from firing.plans.selectors.problem import plan_problem
from studio.errors import Refused
from studio.models import Piece
from studio.selectors.bench_times import tasks_of
from studio.selectors.due_dates import due_dates
from studio.selectors.pieces import fresh, open_pieces
from studio.selectors.work import work_of
from studio.services import layers, pieces
from studio.services.stopping import resume_pieces
from studio.stages import Stage
from tests import make
from tests.firing import build, planned_time
from tests.make import NOW

pytestmark = pytest.mark.django_db

HOUR = dt.timedelta(hours=1)


def stop(cast, *found, at=NOW):
    return stop_work(
        studio=cast.studio, pieces=found, reason="withdrawn", by=None, at=at
    )


def bench_of(cast):
    work = work_of(open_pieces(cast.studio))
    return {
        one.view.piece.title if hasattr(one, "view") else one.piece.title
        for group in (
            work.to_paint,
            work.to_stack,
            work.to_inspect,
            work.to_make_again,
            work.to_decide,
        )
        for one in group
    }


def test_a_stopped_piece_is_on_no_list_and_comes_back_as_it_was(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, passes=2)
    painted = build.painted(piece)
    make.piece(studio=cast.studio, glass=cast.glass, title="Another")
    stop(cast, piece)
    assert bench_of(cast) == {"Another"}
    assert not waiting_passes(cast.studio).exists()
    assert fresh(piece).stage is Stage.STOPPED
    resume_pieces(pieces=[piece], by=None, at=NOW)
    assert set(waiting_passes(cast.studio)) == set(painted)
    assert fresh(piece).stage is Stage.PAINTING


def test_the_planner_knows_no_stopped_piece(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    make.piece(studio=cast.studio, glass=cast.glass, title="Another")
    stop(cast, piece)
    found = plan_problem(
        studio=cast.studio,
        now=NOW,
        weeks=8,
        tasks=tasks_of(cast.studio),
        due_dates=due_dates(cast.studio),
    )
    assert list(found.piece_pks.values()) == [Piece.across_studios.latest("pk").pk]


def test_a_firing_of_nothing_else_is_cancelled_and_its_kiln_is_free(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln, starts_at=NOW + HOUR)
    told = stop(cast, piece)
    firing.refresh_from_db()
    assert firing.cancelled_at == NOW
    assert not Booking.across_studios.standing().exists()
    assert told.sentences == [
        f"“{firing.booking.title}” in {cast.kiln} is cancelled and the kiln is free."
    ]
    assert kilns_today(cast.viewer(), NOW, open_pieces(cast.studio)).is_empty


def test_a_shared_load_keeps_the_others(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=2)
    other = make.piece(studio=cast.studio, glass=cast.glass, layers=2, title="Other")
    mine, theirs = build.painted(piece), build.painted(other)
    firing = firings.make_up_enamel_firing(
        studio=cast.studio,
        kiln=cast.kiln,
        passes=[*mine, *theirs],
        starts_at=NOW + HOUR,
        by=None,
        at=NOW,
    )
    told = stop(cast, piece)
    firing.refresh_from_db()
    assert firing.cancelled_at is None
    assert [item.of_pass for item in firing.items.all()] == theirs
    assert firing.booking.title == "Enamel: Other 1"
    assert len(told.shared) == 1


def test_a_running_firing_goes_on_and_what_comes_out_of_it_is_stopped(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    running.start_firing(firing=firing, by=None, at=NOW)
    told = stop(cast, piece, at=NOW + HOUR)
    assert "let it end" in told.sentences[0]
    assert fresh(piece).stage is Stage.IN_KILN
    out = firing.booking.ends_at + HOUR
    (item,) = firing.items.all()
    running.finish_firing(
        firing=firing, outcomes={item.pk: ("fine", "")}, by=None, at=out
    )
    assert fresh(piece).stage is Stage.STOPPED
    assert bench_of(cast) == set()


def test_what_was_only_planned_for_it_is_given_back(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Other")
    plan = planned_time.standing(cast.studio)
    gone = planned_time.keep(plan, piece, starts_at=NOW + HOUR)
    kept = planned_time.keep(plan, other, starts_at=NOW + HOUR)
    stop(cast, piece)
    assert list(Booking.across_studios.standing()) == [kept]
    assert PlannedFiring.across_studios.get().booking == kept
    gone.refresh_from_db()
    assert gone.cancelled_at == NOW


def test_nothing_is_done_to_a_stopped_piece(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass)
    painted = build.painted(piece)
    stop(cast, piece)
    layer = piece.layers.first()
    for act in (
        lambda: layers.make_again(layer=layer, reason="Dust", by=None, at=NOW),
        lambda: layers.record_painted(passes=painted, by=None, at=NOW),
        lambda: pieces.mark_lost(piece=piece, note="Fell", by=None, at=NOW),
        lambda: firings.make_up_enamel_firing(
            studio=cast.studio,
            kiln=cast.kiln,
            passes=painted,
            starts_at=NOW + HOUR,
            by=None,
            at=NOW,
        ),
    ):
        with pytest.raises(Refused, match="topped"):
            act()


def test_what_is_finished_stays_finished(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass)
    pieces.note_into_kiln(piece=piece, firing_kind="full fuse", by=None, at=NOW)
    pieces.note_out_of_kiln(
        piece=piece, firing_kind="full fuse", outcome="fine", by=None, at=NOW
    )
    pieces.finish_piece(piece=piece, by=None, at=NOW)
    stop(cast, piece)
    piece.refresh_from_db()
    assert piece.stopped_at is None
