"""All of planning in one call: is it possible, a first plan, a better one, checked.

Callers use this; everything it uses can also be called alone.
"""

from dataclasses import dataclass, replace

from firing.planning.problem.cannot import DoesNotFit
from firing.planning.problem.cannot_words import CannotPlan
from firing.planning.problem.problem import Problem
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import Solution
from firing.planning.proofs.bounds import Bounds, lower_bounds
from firing.planning.proofs.check import CheckedPlan, check_plan, checked_plan
from firing.planning.proofs.lateness import MOST_TOGETHER, least_lateness
from firing.planning.proofs.model import SolverLimits
from firing.planning.search.construct import best_first_plan
from firing.planning.search.feasible import check_feasible, horizon_that_would_do
from firing.planning.search.improve import Limits, improve
from firing.planning.search.progress import Report, nobody
from firing.planning.search.publish import to_plan

# What callers with a number of seconds ask for: about 60 % of what one idle core does,
# so that the plan depends on the seed and the fence is not reached.
UNITS_PER_SECOND = 300_000
# Beyond this many pieces, one more list plan costs more than it gains.
FEW_PIECES = 100
TRIES_FEW, TRIES_MANY = 9, 2
# For the bound of the days late, before the search. Its time grows with the pairs of
# pieces; where it would be a large part of the time, the search needs that more.
UNITS_PER_PAIR_FOR_BOUND = 1_000
BOUND_LIMITS = SolverLimits(deterministic_time=0.5, seconds=3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanResult:
    """A plan that the checker found valid, and how good it is known to be.

    Attributes
    ----------
    first : CheckedPlan
        Of the list plan, before any improvement.
    is_proved_best : bool
        Whether the first two aims and the energy meet their bounds.
    was_stopped : bool
        Whether the fence ended the search: it is the best plan up to then, and another
        run may differ.
    """

    plan: Solution
    verdict: CheckedPlan
    first: CheckedPlan
    bounds: Bounds
    tries: int
    is_proved_best: bool
    was_stopped: bool


def make_plan(
    problem: Problem,
    *,
    seed: int,
    limits: Limits,
    report: Report = nobody,
    may_leave_out: bool = False,
) -> PlanResult:
    """Plan a problem as well as the limits allow.

    Parameters
    ----------
    problem : Problem
        As read.
    seed : int
        Of the search; the same problem, seed and units give the same plan.
    limits : Limits
        Work units, and an outer fence; what stops the search from outside is a fence.
    report : callable
        Told how the search stands, at most every `limits.units_per_report` units.
    may_leave_out : bool
        Whether pieces without room before the horizon may be left undelivered.

    Raises
    ------
    CannotPlan
        When something cannot be done at all, or not before the horizon.
    RuleBroken
        When the outcome breaks a rule: a fault of the program.

    References
    ----------
    See the modules that it calls.
    """
    check_feasible(problem)
    facts = Facts(problem)
    board = best_first_plan(
        facts,
        tries=TRIES_FEW if len(facts.pieces) <= FEW_PIECES else TRIES_MANY,
    )
    first = check_plan(problem, to_plan(board))
    bounds = lower_bounds(facts)
    if (
        limits.units >= UNITS_PER_PAIR_FOR_BOUND * len(facts.pieces) ** 2
        and len(facts.pieces) <= MOST_TOGETHER
        and first.weighted_days_late > bounds.weighted_days_late
    ):
        together = least_lateness(facts, BOUND_LIMITS)
        bounds = replace(
            bounds, weighted_days_late=max(bounds.weighted_days_late, together)
        )
    outcome = improve(board, seed=seed, limits=limits, bounds=bounds, report=report)
    plan = to_plan(outcome.board)
    if plan.undelivered and not may_leave_out:
        _refuse_short_horizon(problem, plan)
    verdict = checked_plan(problem, plan)
    return PlanResult(
        plan=plan,
        verdict=verdict,
        first=first,
        bounds=bounds,
        tries=outcome.tries,
        is_proved_best=not verdict.undelivered
        and verdict.weighted_days_late <= bounds.weighted_days_late
        and verdict.kwh <= bounds.kwh + 1e-6,
        was_stopped=outcome.was_stopped,
    )


def _refuse_short_horizon(problem: Problem, plan: Solution) -> None:
    piece, enough = horizon_that_would_do(problem, list(plan.undelivered))
    raise CannotPlan(DoesNotFit(piece=piece, horizon=problem.horizon, enough=enough))
