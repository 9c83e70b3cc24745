"""Published shops through the rules of `model`: firings as the steps of jobs, kilns as
machines; and layers of a kind that share firings in equal kilns.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from firing.planning.proofs.model import (
    SolverAnswer,
    SolverLimits,
    after_each_other,
    in_one_of,
    new_model,
    no_fuller_than,
    no_more_at_once,
    no_more_than_there_is_time,
    one_thing_at_a_time,
    solve,
)


@dataclass(slots=True)
class Shop:
    """A plain shop: jobs of steps in order, each on one of some machines."""

    model: Any
    makespan: Any


def build_shop(jobs: Sequence[Sequence[Sequence[tuple[int, int]]]]) -> Shop:
    """Build the model of a shop whose kilns are machines and whose firings are steps.

    Parameters
    ----------
    jobs : sequence
        Per job its steps in order; per step the (machine, duration) pairs that could do
        it, durations in slots.

    References
    ----------
    Job shop and flexible job shop, through the rules that kilns and people keep.
    """
    model = new_model()
    horizon = sum(max(d for _, d in step) for job in jobs for step in job)
    on_machine: dict[int, list[Any]] = {}
    loads: dict[int, list[tuple[Any, int]]] = {}
    makespan = model.new_int_var(0, horizon, "makespan")
    for job in jobs:
        steps = []
        for places in job:
            start = model.new_int_var(0, horizon, "")
            end = model.new_int_var(0, horizon, "")
            literals = []
            for machine, duration in places:
                literal = model.new_bool_var("")
                interval = model.new_optional_interval_var(
                    start, duration, end, literal, ""
                )
                on_machine.setdefault(machine, []).append(interval)
                loads.setdefault(machine, []).append((literal, duration))
                literals.append(literal)
            in_one_of(model, literals)
            steps.append((start, end))
        after_each_other(model, steps)
        model.add(makespan >= steps[-1][1])
    for machine in sorted(on_machine):
        one_thing_at_a_time(model, on_machine[machine])
        no_more_than_there_is_time(model, loads[machine], makespan)
    model.minimize(makespan)
    return Shop(model=model, makespan=makespan)


def solve_shop(
    jobs: Sequence[Sequence[Sequence[tuple[int, int]]]], limits: SolverLimits
) -> SolverAnswer:
    """Build and solve a shop, reasoning about order where no step chooses its machine.

    Parameters
    ----------
    jobs : sequence
        As for `build_shop`.
    limits : SolverLimits
        When it stops.

    References
    ----------
    As `build_shop`.
    """
    has_choice = any(len(places) > 1 for job in jobs for places in job)
    shop = build_shop(jobs)
    return solve(shop.model, replace(limits, watches_order=not has_choice))


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchJob:
    """A layer for a shop of equal kilns: kind, and whole units of time and weight."""

    kind: int
    duration: int
    arrival: int
    due: int
    weight: int


def build_batch_shop(jobs: Sequence[BatchJob], *, kilns: int, size: int) -> Any:
    """Build the model of layers that share firings of their kind in equal kilns.

    Parameters
    ----------
    jobs : sequence of BatchJob
        Those of a kind have the same duration.
    kilns, size : int
        How many kilns there are, and how many layers a firing takes.

    Returns
    -------
    CpModel
        Minimises the total of weight times lateness.

    References
    ----------
    Parallel batch machines with incompatible families; used firings first and in order
    of their start, equal kilns as one resource.
    """
    model = new_model()
    kinds = sorted({job.kind for job in jobs})
    # Whatever comes last, all could follow one another in one kiln after it.
    per_kind = {kind: [j for j in jobs if j.kind == kind] for kind in kinds}
    horizon = max(job.arrival for job in jobs) + max(
        max(j.duration for j in jobs),
        -(-sum(len(m) * m[0].duration for m in per_kind.values()) // kilns)
        + max(j.duration for j in jobs),
    )
    intervals, costs = [], []
    for members in per_kind.values():
        members.sort(key=lambda job: (job.arrival, job.due, -job.weight))
        duration = members[0].duration
        slots = range(len(members))
        starts = [model.new_int_var(0, horizon, "") for _ in slots]
        used = [model.new_bool_var("") for _ in slots]
        inside = [[model.new_bool_var("") for _ in slots] for _ in members]
        for slot in slots:
            intervals.append(
                model.new_optional_fixed_size_interval_var(
                    starts[slot], duration, used[slot], ""
                )
            )
            loads = [(row[slot], 1) for row in inside]
            no_fuller_than(model, loads, size * used[slot])
            model.add(sum(row[slot] for row in inside) >= 1).only_enforce_if(used[slot])
            model.add(starts[slot] == horizon).only_enforce_if(used[slot].negated())
        after_each_other(model, [(start, start) for start in starts])
        for one, two in pairwise(used):
            model.add_implication(two, one)
        for job, row in zip(members, inside, strict=True):
            in_one_of(model, row)
            least = max(0, job.arrival + duration - job.due)
            late = model.new_int_var(least, horizon + duration, "")
            for start, literal in zip(starts, row, strict=True):
                model.add(start >= job.arrival).only_enforce_if(literal)
                model.add(late >= start + duration - job.due).only_enforce_if(literal)
            costs.append(job.weight * late)
    no_more_at_once(model, intervals, kilns)
    model.minimize(sum(costs))
    return model
