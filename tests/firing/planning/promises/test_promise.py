"""Promises, the reasons for a day, and planning again with few moves."""

from dataclasses import replace
from functools import cache
from itertools import pairwise

import pytest

from firing.planning.problem.problem import Fuse, PlannedPass, PlanProblem
from firing.planning.problem.problem_tables import Facts
from firing.planning.promises.explain import Cause, Change, explain
from firing.planning.promises.promise import TrackRecord, promise
from firing.planning.proofs.check import check_plan
from firing.planning.search.board import Board
from firing.planning.search.construct import first_plan
from firing.planning.search.improve import Limits
from firing.planning.search.publish import to_plan
from firing.planning.search.replan import count_moves, replan
from tests.firing.planning.instances import (
    FINISHER,
    KILN,
    PAINTER,
    days,
    fixed,
    kiln_instance,
    one_pass,
    piece,
    studio,
)

RECORD = TrackRecord(
    passes_fired=200,
    passes_lost=8,
    fuses_fired=30,
    fuses_lost=1,
    labour_ratios=(0.9, 1.0, 1.0, 1.1, 1.2, 1.4, 1.0, 1.3),
)


@cache
def published(name):
    problem = kiln_instance(name)
    return problem, to_plan(first_plan(Facts(problem)))


def new_piece(problem, **changes):
    return replace(problem.pieces[1], id="NEW", **changes)


@pytest.mark.parametrize("name", ["S-1", "M-1", "L-1"])
def test_a_promise_moves_nothing_and_can_be_kept(name):
    problem, plan = published(name)
    new = new_piece(problem)
    answer = promise(problem, plan, new, record=RECORD, seed=1)
    assert answer.day <= answer.margin.day_80 <= answer.margin.day_95
    # It is kept by a plan in which everything published stays where it is.
    larger = replace(problem, pieces=(*problem.pieces, new))
    again = replan(larger, plan, seed=1).least
    assert again.moves.firings == 0
    assert again.moves.work == 0
    assert answer.day <= again.plan.delivery["NEW"]
    assert answer == promise(problem, plan, new, record=RECORD, seed=1)


def test_moves_are_offered_with_whom_they_touch():
    problem, plan = published("L-1")
    answer = promise(
        problem, plan, new_piece(problem, due_day=40), record=RECORD, seed=1
    )
    moves = answer.with_moves
    assert moves is not None
    assert moves.day < answer.day
    assert moves.days_gained == answer.day - moves.day
    for moved in moves.moved:
        assert moved.day_before == plan.delivery[moved.piece]
        assert moved.day_after <= max(moved.day_before, moved.due_day)


def test_a_worse_record_gives_a_wider_margin():
    problem, plan = published("M-1")
    new = new_piece(problem)
    calm = replace(RECORD, passes_lost=0, labour_ratios=())
    good = promise(problem, plan, new, record=calm, seed=1).margin
    bad = promise(
        problem,
        plan,
        new,
        record=replace(RECORD, passes_lost=60, labour_ratios=(1.8,) * 9),
        seed=1,
    ).margin
    assert bad.day_80 > good.day_80
    assert good.guesses
    assert not bad.guesses


def test_a_piece_without_room_is_refused():
    problem, plan = published("S-1")
    with pytest.raises(PlanProblem, match="does not fit"):
        promise(problem, plan, new_piece(problem, release=5000), record=RECORD, seed=1)


@pytest.mark.parametrize("name", ["S-1", "M-1"])
def test_the_chain_reaches_from_release_to_delivery(name):
    board = first_plan(Facts(kiln_instance(name)))
    for number, one in enumerate(board.facts.pieces):
        why = explain(board, number, with_reliefs=False)
        steps = why.steps
        assert steps[0].start == one.piece.release
        assert all(a.end == b.start for a, b in pairwise(steps))
        assert (steps[-1].end - 1) // 48 == board.placed[number].day
        total = steps[-1].end - steps[0].start
        assert sum(why.days_by_cause.values()) == pytest.approx(total / 48, abs=0.1)


def test_a_kiln_that_is_taken_is_named_and_the_relief_is_it():
    problem = studio(piece(layers=()), fixed=(fixed(0, 1500, name="X1"),))
    free = studio(piece(layers=()))
    board, other = Board(Facts(problem)), Board(Facts(free))
    board.insert(0)
    other.insert(0)
    why = explain(board, 0)
    assert why.days_by_cause[Cause.KILN_TAKEN] > 20
    # Fixed firings stay: an empty kiln of the plan's own work would not help.
    assert all(Change.KILNS_FREE not in r.changes for r in why.reliefs)
    assert explain(other, 0).days_by_cause.get(Cause.KILN_TAKEN, 0) == 0


def test_other_work_of_the_artist_is_the_cause_and_its_end_the_relief():
    problem = studio(
        piece("P1", layers=((PlannedPass(kind="burn", labour=90),),)), piece()
    )
    problem = replace(problem, pieces=(problem.pieces[0], replace(piece("P2"))))
    board = Board(Facts(problem))
    board.insert(0)
    board.insert(1)
    why = explain(board, 1)
    assert why.days_by_cause[Cause.OTHER_WORK] > 1
    assert any(Change.ARTIST_FREE in r.changes for r in why.reliefs)
    first = why.reliefs[0]
    assert first.days_gained > 0
    assert first.day == board.placed[1].day - first.days_gained


# Per change: a studio that it helps, and the same studio with the change really made.
FULL_HOURS = replace(PAINTER, weekly_cap=336)
SHUT = replace(KILN, maintenance=((0, 500),))
AWAY = replace(PAINTER, available=PAINTER.available[6:], away=PAINTER.available[:6])
CHANGED = {
    Change.NO_WEEKLY_LIMIT: (
        studio(people=(replace(PAINTER, weekly_cap=3), FINISHER)),
        studio(people=(FULL_HOURS, FINISHER)),
    ),
    Change.KILNS_OPEN: (studio(kilns=(SHUT,)), studio()),
    Change.NOBODY_AWAY: (studio(people=(AWAY, FINISHER)), studio()),
    Change.EVERY_DAY: (
        studio(access=days(16, 36, weekdays=(2,))),
        # Days before the first that is open are past.
        studio(access=days(16, 36, weekdays=range(7))[2:]),
    ),
    Change.HOUR_LONGER: (
        studio(access=days(19, 21)),
        studio(access=days(19, 23)),
    ),
}


@pytest.mark.parametrize("change", CHANGED)
def test_a_relief_brings_what_the_studio_with_the_change_does(change):
    problem, changed = CHANGED[change]
    board, other = Board(Facts(problem)), Board(Facts(changed))
    board.insert(0)
    other.insert(0)
    reliefs = {one.changes: one for one in explain(board, 0).reliefs}
    assert reliefs[(change,)].day == other.placed[0].day < board.placed[0].day


UNFUSED = {"layers": (), "assembly": 0, "fuse": None, "coldwork": 0}
LONG_FUSE = Fuse(temp_f=1490, run=900, load=2, unload=2)
# Per change: what a first piece holds for long, and what a second one needs of it.
HELD = {
    Change.ARTIST_FREE: (UNFUSED | {"layers": ((one_pass(labour=90),),)}, {}),
    Change.KILNS_FREE: (UNFUSED | {"fuse": LONG_FUSE}, {"layers": ()}),
    Change.COLDWORK_FREE: (UNFUSED | {"coldwork": 150}, {}),
}


@pytest.mark.parametrize("change", HELD)
def test_freeing_what_other_work_holds_brings_the_day_of_the_piece_alone(change):
    first, second = HELD[change]
    board = Board(Facts(studio(piece("P1", **first), piece("P2", **second))))
    board.insert(0)
    board.insert(1)
    alone = Board(Facts(studio(piece("P2", **second))))
    alone.insert(0)
    reliefs = {one.changes: one for one in explain(board, 1).reliefs}
    assert reliefs[(change,)].day == alone.placed[0].day < board.placed[1].day


# --- planning again -------------------------------------------------------------------


@pytest.mark.parametrize("name", ["S-1", "M-1", "L-1"])
def test_nothing_changed_moves_nothing(name):
    problem, plan = published(name)
    answer = replan(problem, plan, seed=1)
    assert answer.least.moves.order == (0, 0, 0)
    assert answer.least.changes == ()
    assert answer.wider is None


@pytest.mark.parametrize("name", ["S-1", "M-1", "L-1"])
def test_a_lost_layer_touches_its_own_piece_alone(name):
    problem, plan = published(name)
    lost = problem.pieces[2]
    layers = list(lost.layers)
    layers[0] = (*layers[0], replace(layers[0][-1], labour=3))
    now = replace(
        problem,
        pieces=tuple(
            replace(one, layers=tuple(layers)) if one.id == lost.id else one
            for one in problem.pieces
        ),
    )
    answer = replan(now, plan, seed=1).least
    assert answer.verdict.is_valid
    assert {change.piece for change in answer.changes} == {lost.id}
    assert any(change.before is None for change in answer.changes)


def test_a_kiln_that_fails_moves_what_was_in_it():
    problem, plan = published("M-1")
    kiln = problem.kilns[1]
    down = (1000, 1300)
    now = replace(
        problem,
        kilns=tuple(
            replace(k, maintenance=(*k.maintenance, down)) if k.id == kiln.id else k
            for k in problem.kilns
        ),
    )
    answer = replan(now, plan, seed=1, limits=Limits(units=60_000))
    assert answer.least.verdict.is_valid
    assert answer.least.moves.firings > 0
    assert check_plan(now, answer.least.plan).is_valid
    assert count_moves(plan, answer.least.plan) == answer.least.moves
    if answer.wider is not None:
        assert check_plan(now, answer.wider.plan).is_valid
        late = answer.wider.verdict.weighted_days_late
        assert late < answer.least.verdict.weighted_days_late
        assert answer.recommended is answer.wider
    for one in answer.least.plan.firings:
        if one.kiln == kiln.id:
            assert one.unload_start < down[0] or one.load_start >= down[1]


def test_a_piece_that_is_gone_and_one_that_is_new():
    problem, plan = published("M-1")
    new = new_piece(problem)
    now = replace(problem, pieces=(*problem.pieces[1:], new))
    answer = replan(now, plan, seed=1).least
    assert answer.verdict.is_valid
    assert answer.moves.order == (0, 0, 0)
    assert {change.piece for change in answer.changes} == {problem.pieces[0].id, "NEW"}
