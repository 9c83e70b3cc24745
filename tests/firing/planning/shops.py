"""Models of published shops: jobs of steps on machines, and jobs of a kind that share
batches in equal machines. What CP-SAT proves of them is known."""

from dataclasses import dataclass
from itertools import pairwise

from firing.planning.proofs.model import new_model


def build_shop(jobs):
    """Build the model of jobs; per step the (machine, duration) pairs that could do it."""
    model = new_model()
    horizon = sum(max(d for _, d in step) for job in jobs for step in job)
    on_machine = {}
    loads = {}
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
            model.add_exactly_one(literals)
            steps.append((start, end))
        for (_, end), (start, _) in pairwise(steps):
            model.add(start >= end)
        model.add(makespan >= steps[-1][1])
    for machine in sorted(on_machine):
        model.add_no_overlap(on_machine[machine])
        # Follows from the line above; it lets the solver's relaxation see the load.
        model.add(sum(d * literal for literal, d in loads[machine]) <= makespan)
    model.minimize(makespan)
    return model


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchJob:
    """A job for equal machines: kind, and whole units of time and weight."""

    kind: int
    duration: int
    arrival: int
    due: int
    weight: int


def build_batch_shop(jobs, *, kilns, size):
    """Build the model of jobs that share batches of their kind; minimises weighted lateness."""
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
            held = sum(row[slot] for row in inside)
            model.add(held <= size * used[slot])
            model.add(held >= 1).only_enforce_if(used[slot])
            model.add(starts[slot] == horizon).only_enforce_if(used[slot].negated())
        for one, two in pairwise(starts):
            model.add(two >= one)
        for one, two in pairwise(used):
            model.add_implication(two, one)
        for job, row in zip(members, inside, strict=True):
            model.add_exactly_one(row)
            least = max(0, job.arrival + duration - job.due)
            late = model.new_int_var(least, horizon + duration, "")
            for start, literal in zip(starts, row, strict=True):
                model.add(start >= job.arrival).only_enforce_if(literal)
                model.add(late >= start + duration - job.due).only_enforce_if(literal)
            costs.append(job.weight * late)
    model.add_cumulative(intervals, [1] * len(intervals), kilns)
    model.minimize(sum(costs))
    return model
