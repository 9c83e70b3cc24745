"""A better plan, valid by the checker, the same for the same seed, against the
reference values of the kiln instances and against brute force on tiny studios."""

import itertools
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import plan_to_json
from firing.planning.proofs.bounds import lower_bounds
from firing.planning.proofs.check import check_plan
from firing.planning.search.board import Board
from firing.planning.search.construct import best_first_plan, first_plan
from firing.planning.search.improve import Limits, improve
from firing.planning.search.placing import Manner
from firing.planning.search.planner import make_plan
from firing.planning.search.publish import to_plan
from tests.firing.planning.instances import kiln_instance, one_pass, piece, studio

# Weighted days late and kWh of the "due-date list and merge" and of the prototype.
LIST = {"S-1": (4, 1275), "M-1": (33, 6409), "L-1": (609, 21787), "X-1": (3870, 163639)}
PROTOTYPE = {"S-1": (4, 1209), "M-1": (20, 5948)}


def improved(name, units, seed=1):
    facts = Facts(kiln_instance(name))
    outcome = improve(
        best_first_plan(facts, tries=3), seed=seed, limits=Limits(units=units)
    )
    verdict = check_plan(facts.problem, to_plan(outcome.board))
    assert verdict.is_valid, verdict.faults
    assert verdict.undelivered == 0
    return facts, verdict, outcome


@pytest.mark.parametrize(
    ("name", "units"), [("S-1", 100_000), ("M-1", 150_000), ("L-1", 150_000)]
)
def test_at_least_as_good_as_the_list(name, units):
    facts, verdict, _ = improved(name, units)
    assert (verdict.weighted_days_late, verdict.kwh) <= LIST[name]
    bounds = lower_bounds(facts)
    assert bounds.weighted_days_late <= verdict.weighted_days_late
    assert bounds.kwh <= verdict.kwh


@pytest.mark.parametrize(("name", "units"), [("S-1", 200_000), ("M-1", 200_000)])
def test_as_good_as_the_prototype(name, units):
    _, verdict, _ = improved(name, units)
    assert (verdict.weighted_days_late, verdict.kwh) <= PROTOTYPE[name]


@pytest.mark.long
def test_the_large_studio_too():
    _, verdict, _ = improved("X-1", 1)
    assert (verdict.weighted_days_late, verdict.kwh) <= LIST["X-1"]


@pytest.mark.parametrize("name", ["S-1", "M-1"])
def test_the_same_seed_gives_the_same_plan_byte_for_byte(name):
    texts = {
        json.dumps(plan_to_json(to_plan(improved(name, 40_000)[2].board)))
        for _ in range(2)
    }
    assert len(texts) == 1


def test_the_fence_ends_the_search():
    facts = Facts(kiln_instance("S-1"))
    outcome = improve(
        first_plan(facts), seed=1, limits=Limits(units=10**9, fence=lambda: True)
    )
    assert outcome.was_stopped
    assert outcome.tries == 0


def test_nothing_to_plan_is_an_empty_plan():
    result = make_plan(
        studio().__class__(
            horizon=100, access=(), kinds=(), kilns=(), people=(), fixed=(), pieces=()
        ),
        seed=1,
        limits=Limits(units=10),
    )
    assert plan_to_json(result.plan) == {
        "firings": [],
        "work": [],
        "delivery": {},
        "undelivered": [],
    }


small = st.builds(
    lambda width, depth, labour, due, weight, passes: {
        "width_mm": width,
        "depth_mm": depth,
        "layers": tuple((one_pass(labour),) * passes for _ in range(2)),
        "due_day": due,
        "weight": weight,
    },
    width=st.sampled_from([200, 450, 700]),
    depth=st.sampled_from([150, 400]),
    labour=st.integers(min_value=1, max_value=9),
    due=st.integers(min_value=5, max_value=25),
    weight=st.integers(min_value=0, max_value=4),
    passes=st.integers(min_value=1, max_value=2),
)


@settings(max_examples=25, deadline=None)
@given(rows=st.lists(small, min_size=1, max_size=3), seed=st.integers(0, 99))
def test_small_studios_against_every_order(rows, seed):
    problem = studio(*(piece(f"P{n}", **row) for n, row in enumerate(rows)))
    facts = Facts(problem)
    outcome = improve(first_plan(facts), seed=seed, limits=Limits(units=6000))
    verdict = check_plan(problem, to_plan(outcome.board))
    assert verdict.is_valid, verdict.faults
    best = min(
        score_of(facts, order) for order in itertools.permutations(range(len(rows)))
    )
    assert (verdict.undelivered, verdict.weighted_days_late) <= best
    bounds = lower_bounds(facts)
    assert bounds.weighted_days_late <= verdict.weighted_days_late
    assert bounds.kwh <= verdict.kwh + 1e-6
    assert sum(bounds.nights.values()) <= len(outcome.board.firings)


def score_of(facts, order):
    board = Board(facts)
    for number in order:
        board.insert(number, Manner())
    return board.score[:2]
