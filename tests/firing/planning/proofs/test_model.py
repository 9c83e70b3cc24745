"""The rules as constraints: published shops and batches with known optima, and pieces
freed in a plan."""

import pytest

from firing.planning.problem.problem_tables import Facts
from firing.planning.proofs.check import check_plan
from firing.planning.proofs.model import SolverLimits, solve
from firing.planning.proofs.shops import build_batch_shop, solve_shop
from firing.planning.search.construct import first_plan
from firing.planning.search.freed import improve_with_solver
from firing.planning.search.publish import to_plan
from tests.firing.planning.instances import (
    EXPECTED,
    HUNDREDTHS,
    batches,
    kiln_instance,
    shop,
)

SHOPS = [name for name in EXPECTED if "jobshop" in name]
# More than two seconds on an idle core; `benchmark` prints them all.
LONG = {
    "jobshop/ft10.txt",
    "jobshop/la26.txt",
    "flexible_jobshop/mk03.txt",
    "flexible_jobshop/mk05.txt",
}
# The fence is far away, so that the outcome rests on deterministic time alone.
LIMITS = SolverLimits(deterministic_time=10, seconds=1200)


@pytest.mark.parametrize(
    "name",
    [pytest.param(n, marks=[pytest.mark.slow] if n in LONG else []) for n in SHOPS],
)
def test_a_shop_is_proved_optimal(name):
    answer = solve_shop(shop(name), LIMITS)
    assert answer.status == "OPTIMAL"
    assert answer.value == answer.bound == EXPECTED[name]["optimum"]


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", [name for name in EXPECTED if name.startswith("parallel_batch")]
)
def test_batches_in_equal_kilns_are_proved_optimal(name):
    kilns, size, jobs = batches(name)
    answer = solve(
        build_batch_shop(jobs, kilns=kilns, size=size),
        SolverLimits(deterministic_time=60, seconds=1200),
    )
    assert answer.status == "OPTIMAL"
    assert answer.value / HUNDREDTHS == pytest.approx(
        EXPECTED[name]["optimum"], abs=0.01
    )


@pytest.mark.parametrize("freed", [[3], [1, 2]])
def test_freed_pieces_go_back_better_or_as_they_were(freed):
    facts = Facts(kiln_instance("S-1"))
    board = first_plan(facts)
    before = board.score
    is_better = improve_with_solver(
        board, freed, SolverLimits(deterministic_time=3, seconds=300)
    )
    assert is_better
    assert board.score < before
    verdict = check_plan(facts.problem, to_plan(board))
    assert verdict.is_valid, verdict.faults


def test_out_of_time_leaves_the_plan_as_it_was():
    board = first_plan(Facts(kiln_instance("S-1")))
    plan = to_plan(board)
    assert not improve_with_solver(
        board, [0, 1, 2, 3], SolverLimits(deterministic_time=1e-4, seconds=300)
    )
    assert to_plan(board) == plan
