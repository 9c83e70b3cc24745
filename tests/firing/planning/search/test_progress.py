"""Watching a search shows its best plan and bounds and changes nothing; it may be ended
with the plan found so far.
"""

import json

import pytest

from firing.planning.problem.solution import plan_to_json
from firing.planning.proofs.check import check_plan
from firing.planning.search.improve import Limits
from firing.planning.search.planner import make_plan
from firing.planning.search.replan import replan
from tests.firing.planning.instances import days, kiln_instance, one_pass, piece, studio


def watched(units, every=20_000, stop_after=None, name="M-1"):
    """Plan with a listener; `stop_after` reports the fence comes down."""
    told = []
    result = make_plan(
        kiln_instance(name),
        seed=1,
        limits=Limits(
            units=units,
            units_per_report=every,
            fence=lambda: stop_after is not None and len(told) >= stop_after,
        ),
        report=told.append,
    )
    return result, told


def test_reports_tell_the_best_plan_so_far_and_its_bounds():
    result, told = watched(120_000)
    assert [one.share for one in told] == sorted(one.share for one in told)
    assert (told[0].share, told[-1].share) == (0.0, 1.0)
    # One at the start, one at the end, and at most one every 20 000 units between.
    assert 4 <= len(told) <= 2 + 6
    values = [(o.undelivered, o.weighted_days_late, o.kwh) for o in told]
    assert values == sorted(values, reverse=True)
    assert values[-1] == (
        0,
        result.verdict.weighted_days_late,
        pytest.approx(result.verdict.kwh),
    )
    for one in told:
        assert one.least_days_late <= result.verdict.weighted_days_late
        assert one.least_kwh == result.bounds.kwh <= result.verdict.kwh
        assert not one.is_proved_best
    assert told[-1].tries == result.tries
    assert not result.was_stopped


def test_watching_does_not_change_the_plan():
    plans = {
        json.dumps(plan_to_json(watched(40_000, every=every)[0].plan))
        for every in (1, 7_000, 10**9)
    }
    assert len(plans) == 1


@pytest.mark.parametrize("stop_after", [1, 3])
def test_a_search_that_is_stopped_keeps_its_best_plan(stop_after):
    result, told = watched(10**9, stop_after=stop_after)
    assert result.was_stopped
    assert len(told) == stop_after + 1
    assert check_plan(kiln_instance("M-1"), result.plan).is_valid
    found = (result.verdict.weighted_days_late, result.verdict.kwh)
    assert found <= (told[-2].weighted_days_late, told[-2].kwh)
    assert found <= (result.first.weighted_days_late, result.first.kwh)


def test_a_plan_that_meets_its_bounds_ends_the_search_at_once():
    # One layer fills a shelf: one firing, one fuse, in time; nothing is left to gain.
    problem = studio(
        piece(width_mm=1000, depth_mm=800, layers=((one_pass(),),), due_day=40)
    )
    told = []
    result = make_plan(problem, seed=1, limits=Limits(units=10**9), report=told.append)
    assert result.is_proved_best
    assert told[-1].is_proved_best
    assert result.tries == 0
    assert not result.was_stopped


def test_a_small_plan_that_cannot_be_proved_ends_before_its_units_are_used_up():
    problem = studio(piece(due_day=1), piece("P2", due_day=1))
    result = make_plan(problem, seed=1, limits=Limits(units=10**9))
    assert not result.was_stopped
    assert result.tries < 10_000


def test_a_search_for_a_wider_plan_is_watched_and_stopped_too():
    problem = studio(
        *(piece(f"P{n}", due_day=6, weight=n + 1) for n in range(4)),
        access=days(16, 36, weekdays=(0, 1, 2, 3)),
    )
    published = make_plan(problem, seed=1, limits=Limits(units=100)).plan
    told = []
    answer = replan(
        problem,
        published,
        seed=1,
        limits=Limits(units=10**9, units_per_report=1000, fence=lambda: len(told) >= 3),
        report=told.append,
    )
    assert answer.was_stopped
    assert len(told) == 4
    assert answer.least.verdict.weighted_days_late > 0
