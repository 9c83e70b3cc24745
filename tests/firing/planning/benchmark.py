"""Prints what the planner reaches beside the reference values; not a test.

    python -m tests.firing.planning.benchmark [--seconds 10] [--seed 1] [NAME ...]

Names are kiln instances (S-1 M-1 L-1 X-1), "shops" and "packing"; all without names.
A search is given the units of work that so many seconds stand for and is not stopped by
the clock. CPU seconds are this process's own; wall seconds also hold what else the
machine did.
The reference (bounds, list and merge, prototype, best known, seconds of proofs) was
handed over with the instances; weighted days late / kWh.
"""

import argparse
import json
import time
from dataclasses import replace
from itertools import pairwise
from math import log

from firing.planning.packing.packing import pack
from firing.planning.problem.problem_tables import Facts
from firing.planning.promises.promise import TrackRecord, promise
from firing.planning.proofs.lateness import least_lateness
from firing.planning.proofs.model import SolverLimits, solve
from firing.planning.search.construct import first_plan
from firing.planning.search.improve import Limits
from firing.planning.search.planner import UNITS_PER_SECOND, make_plan
from firing.planning.search.replan import replan
from tests.firing.planning.instances import (
    DATA,
    EXPECTED,
    HUNDREDTHS,
    batches,
    fill_bins,
    kiln_instance,
    shop,
)
from tests.firing.planning.shops import build_batch_shop, build_shop

REFERENCE = {
    "S-1": ("0 / 965", "4 / 1275", "4 / 1209", "4 / 1209"),
    "M-1": ("0 / 4501", "33 / 6409", "20 / 5948", "15 / 6064"),
    "L-1": ("0 / 17292", "609 / 21787", "583 / 21459", "443 / 21177"),
    "X-1": ("-", "3870 / 163639", "3870 / 163462", "3870 / 163462"),
}
# What the reference says of its own proofs, on two cores.
REFERENCE_PROOF = {
    "jobshop": "under 20 s",
    "flexible_jobshop": "under 20 s",
    "flexible_jobshop/mk05.txt": "not proved, 175 after 45 s",
    "parallel_batch": "at most 5 s",
}
PROMISES = 40
FULL = SolverLimits(deterministic_time=100, seconds=600)
FULL_BOUND = SolverLimits(deterministic_time=2, seconds=60)


class Clock:
    """CPU and wall seconds since it was made."""

    def __init__(self):
        self.began = (time.process_time(), time.monotonic())

    def __str__(self):
        return f"{self.cpu:.2f} s CPU, {self.wall:.2f} s wall"

    @property
    def cpu(self):
        return time.process_time() - self.began[0]

    @property
    def wall(self):
        return time.monotonic() - self.began[1]


def measure(name, seconds, seed):
    """Print one kiln instance; return passes, seconds of a first plan and of a try."""
    problem = kiln_instance(name)
    passes = sum(len(layer) for one in problem.pieces for layer in one.layers)
    bound, by_list, prototype, best = REFERENCE[name]
    print(f"{name}: {len(problem.pieces)} pieces, {passes} passes, ", end="")
    print(f"{len(problem.kilns)} kilns")
    print(
        f"  reference: bound {bound}, list {by_list}, {prototype} (10 s), best {best}"
    )
    clock = Clock()
    facts = Facts(problem)
    first = first_plan(facts)
    first_cpu = clock.cpu
    print(f"  first plan {first.late} / {first.mwh / 1000:.0f}: {clock}")
    clock = Clock()
    result = make_plan(
        problem,
        seed=seed,
        limits=Limits(units=int(seconds * UNITS_PER_SECOND)),
    )
    per_try = clock.cpu / max(result.tries, 1)
    bounds, verdict = result.bounds, result.verdict
    print(
        f"  {seconds:g} s asked for: {verdict.weighted_days_late} / {verdict.kwh:.0f}, "
        f"bound {bounds.weighted_days_late} / {bounds.kwh:.0f}, {result.tries} tries, "
        f"{clock}"
    )
    clock = Clock()
    print(f"  days late at least {least_lateness(facts, FULL_BOUND)}: {clock}")
    promises(problem, result.plan)
    one_lost_layer(problem, result.plan)
    return passes, first_cpu, per_try


def promises(problem, plan):
    """Print how long a promise with its reasons takes, over many pieces."""
    cpu, wall = [], []
    step = max(1, len(problem.pieces) // PROMISES)
    for number in range(0, PROMISES * step, step):
        piece = problem.pieces[number % len(problem.pieces)]
        clock = Clock()
        promise(problem, plan, replace(piece, id="NEW"), record=TrackRecord(), seed=1)
        cpu.append(clock.cpu)
        wall.append(clock.wall)
    print(f"  promise with reasons, {len(cpu)} pieces: {ranks(cpu)} s CPU", end="")
    print(f"; {ranks(wall)} s wall")


def ranks(values):
    in_order = sorted(values)
    median, p95 = in_order[len(values) // 2], in_order[-(-len(values) * 95 // 100) - 1]
    return f"median {median:.3f}, p95 {p95:.3f}, worst {in_order[-1]:.3f}"


def one_lost_layer(problem, plan):
    """Print what moves when the first layer of each of some pieces is lost."""
    step = max(1, len(problem.pieces) // 4)
    for lost in problem.pieces[step // 2 :: step][:4]:
        at = next(n for n, layer in enumerate(lost.layers) if layer)
        again = (*lost.layers[at], lost.layers[at][-1])
        layers = (*lost.layers[:at], again, *lost.layers[at + 1 :])
        pieces = tuple(
            replace(p, layers=layers) if p.id == lost.id else p for p in problem.pieces
        )
        clock = Clock()
        found = replan(replace(problem, pieces=pieces), plan, seed=1).least
        print(
            f"  {lost.id} loses a layer: {found.moves.firings} firings move, "
            f"{found.verdict.weighted_days_late} weighted days late: {clock}"
        )


def growth(rows):
    """Print the slope of log seconds over log passes, and from size to size."""
    for title, column in (("first plan", 1), ("a try", 2)):
        points = [(log(row[0]), log(max(row[column], 1e-6))) for row in rows]
        x, y = (sum(p[n] for p in points) / len(points) for n in (0, 1))
        slope = sum((a - x) * (b - y) for a, b in points) / sum(
            (a - x) ** 2 for a, _ in points
        )
        steps = ", ".join(
            f"{(two[1] - one[1]) / (two[0] - one[0]):.2f}"
            for one, two in pairwise(points)
        )
        print(f"growth of {title}: CPU ~ passes ^ {slope:.2f} (step by step {steps})")


def shops():
    """Print every published shop and batch instance, with what CP-SAT proves of it."""
    for name, known in EXPECTED.items():
        folder = name.split("/")[0]
        if folder not in {"jobshop", "flexible_jobshop", "parallel_batch"}:
            continue
        clock = Clock()
        if folder == "parallel_batch":
            kilns, size, jobs = batches(name)
            answer = solve(build_batch_shop(jobs, kilns=kilns, size=size), FULL)
            value, bound = answer.value / HUNDREDTHS, answer.bound / HUNDREDTHS
        else:
            answer = solve(build_shop(shop(name)), FULL)
            value, bound = answer.value, answer.bound
        reference = REFERENCE_PROOF.get(name, REFERENCE_PROOF[folder])
        print(
            f"{name}: optimum {known['optimum']}, found {value:g}, bound {bound:g}, "
            f"{answer.status.lower()}: {clock} (reference: {reference})",
            flush=True,
        )


def packing():
    """Print how near the shelf packer comes to published packings."""
    for name, known in EXPECTED.items():
        if name.startswith("strip_packing"):
            data = json.loads((DATA / name).read_text())
            sizes = [tuple(map(float, item)) for item in data["items"]]
            clock = Clock()
            height = known["optimum"]
            while (
                pack(
                    sizes,
                    width_mm=data["strip_width"],
                    depth_mm=height,
                    node_limit=5000,
                ).spots
                is None
            ):
                height += known["optimum"] / 100
            print(f"{name}: height {height:g}, optimum {known['optimum']}: {clock}")
        elif name.startswith("bin_packing"):
            clock = Clock()
            count = len(fill_bins(name))
            print(f"{name}: {count} bins, optimum {known['optimum']}: {clock}")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    every = [*REFERENCE, "shops", "packing"]
    parser.add_argument("names", nargs="*", default=every)
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    rows = [
        measure(name, arguments.seconds, arguments.seed)
        for name in arguments.names
        if name in REFERENCE
    ]
    if len(rows) > 1:
        growth(rows)
    if "shops" in arguments.names:
        shops()
    if "packing" in arguments.names:
        packing()


if __name__ == "__main__":
    main()
