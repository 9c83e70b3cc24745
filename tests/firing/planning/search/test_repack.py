"""Cheaper firings without touching anybody's hours, and pieces brought forward."""

from dataclasses import replace

import pytest

from firing.planning.problem.problem_tables import Facts
from firing.planning.proofs.check import check_plan
from firing.planning.search.board import Board
from firing.planning.search.construct import first_plan
from firing.planning.search.placing import Manner
from firing.planning.search.publish import to_plan
from firing.planning.search.repack import repack_some
from firing.planning.search.tidy import bring_forward, tidy
from studio.seeded_random import Dice
from tests.firing.planning.instances import KILN, kiln_instance, one_pass, piece, studio


def checked(board):
    verdict = check_plan(board.facts.problem, to_plan(board))
    assert verdict.is_valid, verdict.faults
    return verdict


@pytest.mark.parametrize("name", ["S-1", "M-1", "L-1"])
def test_layers_laid_anew_keep_every_rule_hour_and_day(name):
    board = first_plan(Facts(kiln_instance(name)))
    work = to_plan(board).work
    late, days = board.late, board.days
    dice = Dice(3)
    done = 0
    for _ in range(60):
        key = dice.pick(sorted(board.firings))
        done += repack_some(board, board.firings[key], dice)
    assert done > 0
    assert to_plan(board).work == work
    assert (board.late, board.days) == (late, days)
    assert checked(board).kwh == pytest.approx(board.mwh / 1000)


@pytest.mark.parametrize("name", ["S-1", "M-1"])
def test_laying_anew_is_taken_back_exactly(name):
    board = first_plan(Facts(kiln_instance(name)))
    plan, score = to_plan(board), board.score
    dice = Dice(5)
    for _ in range(40):
        repack_some(board, board.firings[dice.pick(sorted(board.firings))], dice)
    assert to_plan(board) != plan
    board.rollback(0)
    assert (to_plan(board), board.score) == (plan, score)


def test_two_thin_firings_become_one():
    # Two layers of 300 painted two nights apart lie on one shelf; nothing is due soon.
    problem = studio(piece(layers=((one_pass(20),), (one_pass(2),)), due_day=30))
    facts = Facts(problem)
    board = Board(facts)
    assert board.insert(0, Manner(layers=(1, 0)))
    assert len(board.firings) == 2
    first = min(board.firings.values(), key=lambda one: one.key.night)
    assert any(repack_some(board, first, Dice(seed)) for seed in range(9))
    assert len(board.firings) == 1
    assert checked(board).kwh == pytest.approx(30 + 100)


def test_what_a_cheaper_kiln_does_not_take_goes_elsewhere():
    # Two layers of 300 x 450: beside 650 x 700 there is room for one of them, and the
    # small kiln takes one. 30 + 30 kWh become 30 + 5.
    small = replace(
        KILN,
        id="small",
        width_mm=350,
        depth_mm=450,
        max_temp_f=1200,
        kwh_per_enamel_firing=5,
    )
    problem = studio(
        piece(depth_mm=450, layers=((one_pass(1),), (one_pass(1),)), due_day=60),
        piece("P2", width_mm=650, depth_mm=700, layers=((one_pass(1),),), release=96),
        kilns=(KILN, small),
    )
    board = Board(Facts(problem))
    assert board.insert(1)
    assert board.insert(0, Manner(is_roomy=True, assembled_from=48 * 10))
    assert sorted(len(one.items) for one in to_plan(board).firings) == [1, 2]
    assert tidy(board) == 25_000
    firings = {one.kiln: len(one.items) for one in to_plan(board).firings}
    assert firings == {"K1": 2, "small": 1}
    checked(board)


def test_a_piece_that_waited_for_nothing_is_brought_forward():
    problem = studio(piece(due_day=40))
    board = Board(Facts(problem))
    assert board.insert(0, Manner(assembled_from=48 * 20))
    waited = board.days
    energy = board.mwh
    bring_forward(board)
    soonest = first_plan(Facts(problem))
    assert board.days == soonest.days < waited
    assert board.mwh == energy
    checked(board)
