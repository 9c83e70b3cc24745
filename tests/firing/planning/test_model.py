"""The rules as constraints: published shops and batches with known optima, and pieces
freed in a plan."""

import pytest

from firing.planning.check import check_plan
from firing.planning.construct import first_plan
from firing.planning.facts import Facts
from firing.planning.model import (
    SolverLimits,
    build_shop,
    improve_with_solver,
    no_fuller_than,
    no_more_at_once,
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


def batches(name):
    """Machines, batch size, and jobs (family, duration, arrival, due, weight)."""
    rows = [
        [float(x) for x in line.split()]
        for line in (DATA / name).read_text().splitlines()
        if line.split()
    ]
    machines, per_family, size = (int(x) for x in rows[0])
    durations = rows[1][1:]
    jobs = [
        (at // per_family, durations[at // per_family], *row)
        for at, row in enumerate(rows[2:])
    ]
    assert len(jobs) == per_family * int(rows[1][0])
    return machines, size, jobs


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["parallel_batch/COR10-F4-M2-JF5-B3-0.25-0.25-1.txt"]
)
def test_batches_in_equal_kilns_are_proved_optimal(name):
    """Firings of one kind, at most so many layers each, in kilns that are all alike."""
    from ortools.sat.python import cp_model

    machines, size, jobs = batches(name)
    model = cp_model.CpModel()
    scale = 100
    horizon = round(
        scale * (max(j[2] for j in jobs) + sum(j[1] for j in jobs) / machines + 50)
    )
    intervals, costs = [], []
    for family in sorted({j[0] for j in jobs}):
        members = [j for j in jobs if j[0] == family]
        duration = round(scale * members[0][1])
        starts, joins = [], [[] for _ in members]
        for _ in range(len(members)):
            start = model.new_int_var(0, horizon, "")
            used = model.new_bool_var("")
            starts.append(start)
            intervals.append(
                model.new_optional_fixed_size_interval_var(start, duration, used, "")
            )
            literals = [model.new_bool_var("") for _ in members]
            no_fuller_than(model, [(lit, 1) for lit in literals], size * used)
            for at, literal in enumerate(literals):
                joins[at].append(literal)
        for one, two in zip(starts, starts[1:], strict=False):
            model.add(one <= two)
        for (_, _, arrival, due, weight), literals in zip(members, joins, strict=True):
            model.add_exactly_one(literals)
            late = model.new_int_var(0, horizon, "")
            for start, literal in zip(starts, literals, strict=True):
                model.add(start >= round(scale * arrival)).only_enforce_if(literal)
                end = start + duration
                model.add(late >= end - round(scale * due)).only_enforce_if(literal)
            costs.append(round(scale * weight) * late)
    no_more_at_once(model, intervals, machines)
    model.minimize(sum(costs))
    answer = solve(model, SolverLimits(deterministic_time=60, seconds=90))
    assert answer.status == "OPTIMAL"
    assert answer.value / scale**2 == pytest.approx(EXPECTED[name]["optimum"], abs=0.01)


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
