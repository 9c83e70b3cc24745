"""Facts of the workshop that can be checked by hand, one at a time."""

from dataclasses import replace
from itertools import pairwise

import pytest

from firing.planning.problem.problem import Fuse, PlannedPass
from firing.planning.problem.problem_tables import Facts
from firing.planning.proofs.check import check_plan
from firing.planning.search.board import Board
from firing.planning.search.construct import best_first_plan, first_plan
from firing.planning.search.publish import placements_of, to_plan
from tests.firing.planning.instances import (
    KILN,
    PAINTER,
    days,
    fixed,
    kiln_instance,
    one_pass,
    piece,
    studio,
)


def planned(problem):
    plan = to_plan(first_plan(Facts(problem)))
    verdict = check_plan(problem, plan)
    assert verdict.is_valid, verdict.faults
    return plan


def test_ready_on_a_closed_night_is_unloaded_at_the_next_opening():
    # Loaded on Saturday at 17:30 (slot 5*48 + 35), ready on Sunday at 08:00, closed.
    plan = planned(studio(piece(release=5 * 48 + 20, layers=((one_pass(),),))))
    assert plan.firings[0].load_start == 5 * 48 + 35
    assert plan.firings[0].unload_start == 7 * 48 + 16


def test_a_kiln_never_runs_twice_in_one_closed_period():
    # 900 x 700 fill the shelf alone: four layers are four nights.
    plan = planned(
        studio(piece(width_mm=900, depth_mm=700, layers=((one_pass(1),),) * 4))
    )
    starts = sorted(one.load_start for one in plan.firings)
    assert len(starts) == 4
    assert all(b - a >= 48 for a, b in pairwise(starts))


@pytest.mark.parametrize(("width", "count"), [(930, 1), (929, 2)])
def test_the_gap_is_exact(width, count):
    # Three layers of 300 mm and two gaps of 15 mm are 930 mm, none at the edges.
    kiln = replace(KILN, width_mm=width, depth_mm=300)
    problem = studio(piece(layers=((one_pass(1),),) * 3), kilns=(kiln,))
    assert len(planned(problem).firings) == count


def test_a_shelf_with_area_for_two_that_do_not_lie_on_it():
    # 2 * 600 * 600 is less than 1000 * 800, and yet two do not lie side by side.
    plan = planned(studio(piece(width_mm=600, depth_mm=600)))
    assert len(plan.firings) == 2


def test_a_layer_of_two_passes_needs_two_firings():
    plan = planned(studio(piece(layers=((one_pass(), one_pass()),))))
    assert len(plan.firings) == 2


def test_a_turned_piece_fits():
    plan = planned(studio(piece(width_mm=700, depth_mm=950, layers=((one_pass(),),))))
    assert plan.firings[0].items[0].is_turned


def test_maintenance_in_the_middle_of_a_fuse_puts_it_off():
    closed = replace(KILN, maintenance=((170, 180),))
    plan = planned(studio(kilns=(closed,)))
    assert plan.fuses[0].load_start >= 180


@pytest.mark.parametrize("layers", [(), ((one_pass(),),)])
@pytest.mark.parametrize(
    "spans", [[(0, 161)], [(0, 161), (20, 25)], [(0, 90), (40, 161)]]
)
def test_fixed_firings_are_planned_around_even_where_they_overlap(spans, layers):
    standing = (fixed(*span, name=f"X{n}") for n, span in enumerate(spans))
    plan = planned(studio(piece(layers=layers), fixed=tuple(standing)))
    assert min(one.load_start for one in (*plan.firings, *plan.fuses)) >= 161


def test_the_weekly_limit_binds_though_the_shift_is_free():
    limited = replace(PAINTER, weekly_cap=5)
    problem = studio(piece(layers=((one_pass(3),), (one_pass(3),))))
    plan = planned(replace(problem, people=(limited, problem.people[1])))
    assert (
        max(end for t in plan.work for _, end in t.segments if t.task == "paint") > 336
    )


def test_clear_glass_needs_no_firing():
    plan = planned(studio(piece(layers=((), (one_pass(),)))))
    assert len(plan.firings) == 1


def test_what_is_painted_waits_for_its_firing_only():
    waiting = PlannedPass(kind="burn", labour=0, not_before=200)
    plan = planned(studio(piece(layers=((waiting,),))))
    assert not [t for t in plan.work if t.task == "paint"]
    assert plan.firings[0].load_start >= 200


def test_a_fused_piece_needs_coldwork_alone():
    plan = planned(studio(piece(fuse=None, layers=(), assembly=0)))
    assert (plan.firings, plan.fuses) == ((), ())
    assert plan.delivery == {"P1": 1}


def test_what_does_not_fit_stays_out_and_is_named():
    plan = planned(studio(piece(fuse=Fuse(temp_f=1490, run=9000, load=2, unload=2))))
    assert plan.undelivered == ("P1",)


def test_access_in_the_evening_alone():
    plan = planned(studio(access=days(36, 44)))
    assert all(one.load_start % 48 >= 36 for one in plan.firings)


@pytest.mark.parametrize("name", ["S-1", "M-1", "L-1"])
def test_a_board_is_taken_back_exactly(name):
    board = best_first_plan(Facts(kiln_instance(name)), tries=2)
    plan, score = to_plan(board), board.score
    for number in range(0, len(board.placed), 2):
        board.remove(number)
    assert board.score != score
    board.rollback(0)
    assert board.score == score
    assert to_plan(board) == plan


@pytest.mark.parametrize("name", ["S-1", "M-1"])
def test_a_board_emptied_is_an_empty_board(name):
    facts = Facts(kiln_instance(name))
    board = first_plan(facts)
    for number in range(len(board.placed)):
        board.remove(number)
    empty = Board(facts)
    assert board.score == empty.score
    assert board.free == empty.free
    assert [h.free for h in board.hours] == [h.free for h in empty.hours]
    assert [h.is_open for h in board.hours] == [h.is_open for h in empty.hours]


@pytest.mark.parametrize("name", ["S-1", "M-1", "L-1"])
def test_a_plan_becomes_a_board_again(name):
    facts = Facts(kiln_instance(name))
    plan = to_plan(first_plan(facts))
    board = Board(facts)
    board.load(*placements_of(facts, plan))
    assert to_plan(board) == plan
