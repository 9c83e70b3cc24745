"""Computes a studio's plan: from its rows to options to choose from. It is slow, so it
runs in the worker; it writes nothing.
"""

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from firing.loads.selectors.planned import standing_plan
from firing.models import Plan, PlanWish
from firing.planning.problem.cannot import MAY_FIT_LATER, DoesNotFit
from firing.planning.problem.cannot_words import CannotPlan
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import Solution
from firing.planning.proofs.bounds import lower_bounds
from firing.planning.proofs.check import CheckedPlan, RuleBroken
from firing.planning.search.feasible import leave_out_hopeless
from firing.planning.search.improve import Limits
from firing.planning.search.planner import PlanResult, make_plan
from firing.planning.search.progress import Progress
from firing.planning.search.replan import Moves, count_moves, replan
from firing.plans.selectors.fact_kinds import Facts as StudioFacts
from firing.plans.selectors.facts import plan_facts
from firing.plans.selectors.plans import may_move
from firing.plans.selectors.problem import StudioProblem, plan_problem
from firing.plans.selectors.reasons import left_out_words, no_plan_words
from firing.plans.selectors.record import Record, published_plan, record_of
from studio.errors import Refused
from studio.models import Studio
from studio.selectors.bench_times import tasks_of
from studio.selectors.due_dates import due_dates

# Half a year first, then longer: domains grow with the horizon.
WEEKS_TRIED = (26, 52, 78)
# Beyond what is already planned, when a stored plan is looked at again.
WEEKS_OF_ROOM = 8
SEED = 1
# Half a minute of search on one idle core, and the outer limit.
UNITS = 3_000_000
UNITS_PER_REPORT = 50_000

Watch = Callable[[Progress], None]
Fence = Callable[[], bool]
Search = Callable[[StudioProblem, Solution, int, Limits, Watch], "Made"]

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What a search found, ready to be stored."""

    options: tuple[dict[str, Any], ...]
    facts: StudioFacts
    based_on: int | None
    least_days_late: int
    least_kwh: float
    tries: int
    is_proved_best: bool
    was_stopped: bool
    left_out: tuple[str, ...]
    assumptions: tuple[str, ...] = ()


def source_of(studio: Studio, *, now: datetime, weeks: int) -> StudioProblem:
    """Return what to plan in a studio, with its promises and its usual practice.

    What no plan can hold is left out, and said, so that the rest can be planned.
    """
    source = plan_problem(
        studio=studio,
        now=now,
        weeks=weeks,
        tasks=tasks_of(studio),
        due_dates=due_dates(studio),
    )
    problem, hopeless = leave_out_hopeless(source.problem)
    told = [left_out_words(*one, source) for one in sorted(hopeless.items())]
    return replace(
        source,
        problem=problem,
        hopeless=hopeless,
        ruled_out=source.ruled_out | {source.piece_pks[one] for one in hopeless},
        left_out=(*source.left_out, *told),
        piece_pks={k: v for k, v in source.piece_pks.items() if k not in hopeless},
        pass_refs={k: v for k, v in source.pass_refs.items() if k[0] not in hopeless},
    )


def weeks_for(record: Record, now: datetime) -> int:
    """Return how far ahead to look to cover a whole record, with room to move."""
    ends = [row["ends_at"] for row in (*record["firings"], *record["fuses"])]
    ends += [row["segments"][-1][1] for row in record["work"] if row["segments"]]
    if not ends:
        return WEEKS_TRIED[0]
    needed = (datetime.fromisoformat(max(ends)) - now).days // 7 + WEEKS_OF_ROOM
    return next((one for one in WEEKS_TRIED if one >= needed), WEEKS_TRIED[-1])


def compute(
    plan: Plan, *, now: datetime, watch: Watch, fence: Fence, units: int = UNITS
) -> Made:
    """Plan a studio as a stored order asks for it.

    Raises
    ------
    Refused
        When nothing can be planned at all: says which rule, and which facts.
    RuleBroken
        When a plan that the planner made breaks a rule: a fault of the program.
    """
    studio = plan.studio
    standing = standing_plan(studio)
    facts = plan_facts(studio, now)
    limits = Limits(units=units, fence=fence, units_per_report=UNITS_PER_REPORT)
    searches = [_new]
    if plan.wish == PlanWish.AGAIN and standing is not None:
        searches = [_again, _new]
    for weeks in WEEKS_TRIED:
        is_last = weeks == WEEKS_TRIED[-1]
        source = source_of(studio, now=now, weeks=weeks)
        _refuse_idle(source)
        hindrances = source.hopeless.values()
        if not is_last and any(isinstance(one, MAY_FIT_LATER) for one in hindrances):
            continue
        _refuse_nothing(source)
        try:
            found = _searched(searches, plan, source, standing, limits, watch)
        except CannotPlan as problem:
            raise Refused(no_plan_words(problem.reason, source)) from problem
        undelivered = found.options[0]["record"]["undelivered"]
        if undelivered and not is_last:
            continue
        if undelivered and len(undelivered) == len(source.problem.pieces):
            raise Refused(
                f"Nothing fits into the next {weeks} weeks. Look for kiln time that is "
                "held and not needed, or for more hours."
            )
        return replace(
            found,
            facts=facts,
            based_on=None if standing is None else standing.pk,
            left_out=(*source.left_out, *_without_room(undelivered, source)),
            assumptions=(*source.known, *source.assumptions),
        )
    raise AssertionError("One of the horizons is the last one.")


def _searched(
    searches: Sequence[Search],
    plan: Plan,
    source: StudioProblem,
    standing: Plan | None,
    limits: Limits,
    watch: Watch,
) -> Made:
    """Return what the first search finds that breaks no rule.

    A broken rule is a fault of the program. A plan from nothing does not lean on what
    stood, so it may do where planning again did not; more tries would all end alike.
    """
    published = published_plan(source, standing)
    *before, last = searches
    for search in before:
        try:
            return search(source, published, plan.seed, limits, watch)
        except RuleBroken as broken:
            log.error("Plan %s breaks rules: %s", plan.pk, broken.faults)
    try:
        return last(source, published, plan.seed, limits, watch)
    except RuleBroken as broken:
        log.error("Plan %s breaks rules, made from nothing: %s", plan.pk, broken.faults)
        raise


def _without_room(undelivered: Sequence[int], source: StudioProblem) -> list[str]:
    """Say which pieces found no room in the kilns."""
    names = {pk: name for name, pk in source.piece_pks.items()}
    horizon = source.calendar.horizon
    return [
        left_out_words(
            names[pk], DoesNotFit(piece=names[pk], horizon=horizon, enough=None), source
        )
        for pk in undelivered
    ]


def _refuse_idle(source: StudioProblem) -> None:
    if not source.calendar.access:
        raise Refused(
            "Nobody is ever in to load a kiln: enter the hours in which somebody may "
            "be in, under Settings."
        )


def _refuse_nothing(source: StudioProblem) -> None:
    """Refuse a plan that would be empty and give nothing back; say what was left out.

    Where facts hinder every piece, the bookings stay until the facts are mended.
    """
    is_empty = not source.problem.pieces
    if is_empty and (source.hopeless or not may_move(source.studio)):
        told = ["No piece in work can be planned.", *source.left_out]
        raise Refused(" ".join(told))


def _new(
    source: StudioProblem, published: Solution, seed: int, limits: Limits, watch: Watch
) -> Made:
    result = make_plan(
        source.problem, seed=seed, limits=limits, report=watch, may_leave_out=True
    )
    option = _option(
        "whole",
        source,
        published,
        result.plan,
        result.verdict,
        _moves(published, result),
    )
    return Made(
        options=(option,),
        facts={},
        based_on=None,
        least_days_late=result.bounds.weighted_days_late,
        least_kwh=result.bounds.kwh,
        tries=result.tries,
        is_proved_best=result.is_proved_best,
        was_stopped=result.was_stopped,
        left_out=(),
    )


def _moves(published: Solution, result: PlanResult) -> Moves:
    return count_moves(published, result.plan)


def _again(
    source: StudioProblem, published: Solution, seed: int, limits: Limits, watch: Watch
) -> Made:
    tries = 0

    def report(progress: Progress) -> None:
        nonlocal tries
        tries = progress.tries
        watch(progress)

    result = replan(source.problem, published, seed=seed, limits=limits, report=report)
    found = [("least", result.least)]
    if result.wider is not None:
        found.insert(0, ("wider", result.wider))
    bounds = lower_bounds(Facts(source.problem))
    best = result.recommended.verdict
    return Made(
        options=tuple(
            _option(name, source, published, one.plan, one.verdict, one.moves)
            for name, one in found
        ),
        facts={},
        based_on=None,
        least_days_late=bounds.weighted_days_late,
        least_kwh=bounds.kwh,
        tries=tries,
        is_proved_best=not best.undelivered
        and best.weighted_days_late <= bounds.weighted_days_late
        and best.kwh <= bounds.kwh + 1e-6,
        was_stopped=result.was_stopped,
        left_out=(),
    )


def _option(
    name: str,
    source: StudioProblem,
    published: Solution,
    plan: Solution,
    verdict: CheckedPlan,
    moves: Moves,
) -> dict[str, Any]:
    record = record_of(plan, source)
    return option_of(
        name, record, verdict, moves, changes_of(record_of(published, source), record)
    )


def option_of(
    name: str,
    record: Record,
    verdict: CheckedPlan,
    moves: Moves,
    changes: list[dict[str, Any]],
) -> dict[str, Any]:
    """Return an option as it is stored."""
    return {
        "name": name,
        "record": record,
        "verdict": {
            "undelivered": verdict.undelivered,
            "days_late": verdict.weighted_days_late,
            "kwh": verdict.kwh,
        },
        "moves": {"firings": moves.firings, "days": moves.days, "work": moves.work},
        "changes": changes,
    }


# Piece, layer, number of the pass, task.
Key = tuple[int, int | None, int | None, str]


def changes_of(before: Record, after: Record) -> list[dict[str, Any]]:
    """Return what differs between two records of one problem, piece by piece.

    Each is ``{"piece", "what", "layer", "number", "task", "before", "after"}``, where
    before and after are ``[kiln or person, instant]`` or none; for a delivery, a date.
    """
    found = []
    for what, spots in (("firing", _passes), ("fuse", _fuses), ("work", _work)):
        old, new = spots(before), spots(after)
        for key in sorted(old.keys() | new.keys(), key=str):
            if old.get(key) != new.get(key):
                piece, layer, number, task = key
                found.append(
                    {
                        "piece": piece,
                        "what": what,
                        "layer": layer,
                        "number": number,
                        "task": task,
                        "before": _shown(old.get(key)),
                        "after": _shown(new.get(key)),
                    }
                )
    days_before, days_after = before["deliveries"], after["deliveries"]
    found += [
        {
            "piece": int(piece),
            "what": "delivery",
            "layer": None,
            "number": None,
            "task": "",
            "before": days_before.get(piece),
            "after": days_after.get(piece),
        }
        for piece in sorted(days_before.keys() | days_after.keys(), key=int)
        if days_before.get(piece) != days_after.get(piece)
    ]
    return found


def _shown(spot: list[Any] | None) -> list[Any] | None:
    return None if spot is None else spot[:2]


def _passes(record: Record) -> Mapping[Key, list[Any]]:
    return {
        (item["piece"], item["layer"], item["number"], ""): [
            row["kiln"],
            row["starts_at"],
        ]
        for row in record["firings"]
        for item in row["items"]
    }


def _fuses(record: Record) -> Mapping[Key, list[Any]]:
    return {
        (row["piece"], None, None, ""): [row["kiln"], row["starts_at"]]
        for row in record["fuses"]
    }


def _work(record: Record) -> Mapping[Key, list[Any]]:
    return {
        (row["piece"], row.get("layer"), row.get("number"), row["task"]): [
            row["person"],
            row["segments"][0][0] if row["segments"] else "",
            row["segments"],
        ]
        for row in record["work"]
    }
