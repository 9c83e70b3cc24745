"""Bounds of lateness where people and kilns are shared, by hand and on the instances;
`test_brute_force` holds them against every plan of tiny studios."""

from dataclasses import replace

import pytest

from firing.planning.problem.problem import Fuse
from firing.planning.problem.problem_tables import Facts
from firing.planning.proofs.bounds import cut_off, lower_bounds, rounded
from firing.planning.proofs.lateness import least_lateness, resources, rushes_of
from firing.planning.proofs.model import SolverLimits
from firing.planning.search.construct import first_plan
from firing.planning.search.improve import Limits
from firing.planning.search.planner import make_plan
from tests.firing.planning.instances import (
    FINISHER,
    KILN,
    PAINTER,
    days,
    kiln_instance,
    piece,
    studio,
)

LIMITS = SolverLimits(deterministic_time=0.5, seconds=120)
# Weighted days late of the best plans that this planner ever found.
BEST_KNOWN = {"S-1": 0, "M-1": 6, "L-1": 367}


def bound(problem):
    return least_lateness(Facts(problem), LIMITS)


def both_bounds(problem):
    facts = Facts(problem)
    alone = lower_bounds(facts).weighted_days_late
    return alone, least_lateness(facts, LIMITS)


def test_one_artist_cannot_do_two_pieces_by_the_same_day():
    # Assembly alone, 14 slots a day: 3 days each. The first is assembled on day 2, the
    # other one on day 5; nothing else takes time. Both are due on day 2.
    plain = {"fuse": None, "layers": (), "assembly": 42, "coldwork": 0, "ship_days": 0}
    problem = studio(
        piece(due_day=2, weight=3, **plain),
        piece("P2", due_day=2, weight=2, **plain),
        people=(replace(PAINTER, weekly_cap=336), FINISHER),
    )
    assert both_bounds(problem) == (0, 2 * 3)
    assert first_plan(Facts(problem)).late == 2 * 3


def test_a_weekly_limit_binds_across_pieces():
    # 42 slots a week: the second piece waits for Monday (day 7) and takes three days.
    plain = {"fuse": None, "layers": (), "assembly": 42, "coldwork": 0, "ship_days": 0}
    problem = studio(
        piece(due_day=2, **plain),
        piece("P2", due_day=2, **plain),
        people=(replace(PAINTER, weekly_cap=42), FINISHER),
    )
    assert both_bounds(problem) == (0, 9 - 2)


def test_two_stacks_in_one_kiln_of_two_artists():
    # Each is four days in the kiln, both are due when one could be: days after that the
    # other one is out. With a second kiln nobody need be late.
    plain = {
        "layers": (),
        "assembly": 0,
        "coldwork": 0,
        "ship_days": 0,
        "fuse": Fuse(temp_f=1490, run=190, load=1, unload=1),
    }
    second = replace(PAINTER, id="A2")
    problem = studio(
        piece(due_day=4, **plain),
        piece("P2", due_day=4, artist="A2", **plain),
        people=(PAINTER, second, FINISHER),
        access=days(0, 48, range(7)),
    )
    alone, together = both_bounds(problem)
    assert alone == 0
    assert 2 <= together <= first_plan(Facts(problem)).late
    roomy = replace(problem, kilns=(KILN, replace(KILN, id="K2")))
    assert bound(roomy) == 0 == first_plan(Facts(roomy)).late


def test_a_piece_without_due_day_or_weight_is_never_late():
    problem = studio(piece(due_day=None), piece("P2", due_day=1, weight=0))
    assert bound(problem) == 0


def test_nothing_to_plan_is_never_late():
    assert bound(replace(studio(), pieces=())) == 0


@pytest.mark.parametrize("name", ["S-1", "M-1"])
def test_no_bound_passes_the_best_known(name):
    alone, together = both_bounds(kiln_instance(name))
    assert max(alone, together) <= BEST_KNOWN[name]


def test_the_lateness_of_the_middle_instance_is_proved():
    # The notes that came with the instances know 0 as its bound.
    assert bound(kiln_instance("M-1")) == 6
    result = make_plan(kiln_instance("M-1"), seed=1, limits=Limits(units=500_000))
    assert result.bounds.weighted_days_late == 6
    assert result.verdict.weighted_days_late >= 6


@pytest.mark.long
def test_the_bound_of_the_large_instance():
    found = bound(kiln_instance("L-1"))
    assert 150 <= found <= BEST_KNOWN["L-1"]


def test_what_a_plan_does_keeps_every_sum():
    """The heart of the proof, on a real plan: its own days break no rush."""
    facts = Facts(kiln_instance("M-1"))
    board = first_plan(facts)
    sums = 0
    for resource in resources(facts, range(len(facts.pieces))):
        for need in resource.needs:
            assert list(need.day_if_on) == sorted(need.day_if_on)
        for rush in rushes_of(resource):
            inside = [a for n, a, day in rush.needs if board.placed[n].day <= day]
            assert sum(inside) <= rush.most
            sums += bool(inside)
    assert sums > 100


@pytest.mark.parametrize("scale", [rounded(1), rounded(4), cut_off(0.3), cut_off(0.5)])
def test_scales_are_dual_feasible(scale):
    # Whatever sides lie beside each other, their scaled sides do not pass the shelf.
    for first in range(1, 41):
        for second in range(first, 41 - first):
            for third in range(41 - first - second):
                sides = [n / 40 for n in (first, second, third) if n]
                assert sum(map(scale, sides)) <= 1 + 1e-9
