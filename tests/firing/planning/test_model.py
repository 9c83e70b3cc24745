"""The rules as constraints: published shops and batches with known optima, and pieces
freed in a plan."""

import pytest

from firing.planning.check import check_plan
from firing.planning.construct import first_plan
from firing.planning.facts import Facts
from firing.planning.model import (
    BatchJob,
    SolverLimits,
    build_batch_shop,
    build_shop,
    improve_with_solver,
    solve,
)
from firing.planning.publish import to_plan
from tests.firing.planning.instances import DATA, EXPECTED, kiln_instance, shop

QUICK = ["jobshop/ft06.txt", "jobshop/la01.txt", "jobshop/la06.txt"]
SLOW = ["jobshop/la16.txt", "jobshop/la19.txt", "flexible_jobshop/mk08.txt"]


def proved(name):
    answer = solve(
        build_shop(shop(name)).model, SolverLimits(deterministic_time=40, seconds=60)
    )
    assert answer.status == "OPTIMAL"
    assert answer.value == answer.bound == EXPECTED[name]["optimum"]


@pytest.mark.parametrize("name", QUICK)
def test_a_shop_is_proved_optimal(name):
    proved(name)


@pytest.mark.slow
@pytest.mark.parametrize("name", SLOW)
def test_a_harder_shop_is_proved_optimal(name):
    proved(name)


SCALE = 100


def batches(name):
    """Machines, batch size and jobs; weights in hundredths."""
    rows = [
        [float(x) for x in line.split()]
        for line in (DATA / name).read_text().splitlines()
        if line.split()
    ]
    machines, per_family, size = (int(x) for x in rows[0])
    durations = rows[1][1:]
    jobs = []
    for at, row in enumerate(rows[2:]):
        arrival, due = int(row[0]), int(row[1])
        weight = round(SCALE * row[2])
        assert (arrival, due) == (row[0], row[1])
        family = at // per_family
        duration = int(durations[family])
        jobs.append(
            BatchJob(
                kind=family, duration=duration, arrival=arrival, due=due, weight=weight
            )
        )
    assert len(jobs) == per_family * int(rows[1][0])
    return machines, size, jobs


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", [name for name in EXPECTED if name.startswith("parallel_batch")]
)
def test_batches_in_equal_kilns_are_proved_optimal(name):
    kilns, size, jobs = batches(name)
    answer = solve(
        build_batch_shop(jobs, kilns=kilns, size=size),
        SolverLimits(deterministic_time=60, seconds=60),
    )
    assert answer.status == "OPTIMAL"
    assert answer.value / SCALE == pytest.approx(EXPECTED[name]["optimum"], abs=0.01)


@pytest.mark.parametrize("freed", [[3], [1, 2]])
def test_freed_pieces_go_back_better_or_as_they_were(freed):
    facts = Facts(kiln_instance("S-1"))
    board = first_plan(facts)
    before = board.score
    is_better = improve_with_solver(
        board, freed, SolverLimits(deterministic_time=3, seconds=20)
    )
    assert is_better
    assert board.score < before
    verdict = check_plan(facts.problem, to_plan(board))
    assert verdict.is_valid, verdict.faults


def test_out_of_time_leaves_the_plan_as_it_was():
    board = first_plan(Facts(kiln_instance("S-1")))
    plan = to_plan(board)
    assert not improve_with_solver(
        board, [0, 1, 2, 3], SolverLimits(deterministic_time=1e-4, seconds=20)
    )
    assert to_plan(board) == plan
