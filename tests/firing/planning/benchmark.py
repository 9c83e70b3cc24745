"""Prints what the planner reaches beside the reference values; not a test.

    python -m tests.firing.planning.benchmark [--seconds 10] [S-1 M-1 L-1 X-1]

The reference (bounds, list and merge, prototype, best known) was handed over with the
instances; weighted days late / kWh.
"""

import argparse
import time
from dataclasses import replace

from firing.planning.construct import first_plan
from firing.planning.facts import Facts
from firing.planning.improve import Limits
from firing.planning.planner import UNITS_PER_SECOND, make_plan
from firing.planning.promise import Record, promise
from firing.planning.replan import replan
from tests.firing.planning.instances import kiln_instance

REFERENCE = {
    "S-1": ("0 / 965", "4 / 1275", "4 / 1209", "4 / 1209"),
    "M-1": ("0 / 4501", "33 / 6409", "20 / 5948", "15 / 6064"),
    "L-1": ("0 / 17292", "609 / 21787", "583 / 21459", "443 / 21177"),
    "X-1": ("-", "3870 / 163639", "3870 / 163462", "3870 / 163462"),
}


def measure(name, seconds, seed):
    began = time.monotonic()
    problem = kiln_instance(name)
    first = first_plan(Facts(problem))
    first_s = time.monotonic() - began
    began = time.monotonic()
    result = make_plan(
        problem,
        seed=seed,
        limits=Limits(
            units=int(seconds * UNITS_PER_SECOND),
            fence=lambda: time.monotonic() - began > seconds,
        ),
    )
    took = time.monotonic() - began
    bounds, verdict = result.bounds, result.verdict
    print(f"{name}: {len(problem.pieces)} pieces, {len(problem.kilns)} kilns")
    bound, by_list, prototype, best = REFERENCE[name]
    print(
        f"  reference: bound {bound}, list {by_list}, {prototype} (10 s), best {best}"
    )
    print(f"  first plan {first.late} / {first.mwh / 1000:.0f} after {first_s:.2f} s")
    print(
        f"  after {took:.1f} s: {verdict.weighted_days_late} / {verdict.kwh:.0f}, "
        f"bound {bounds.weighted_days_late} / {bounds.kwh:.0f}, {result.tries} tries"
        f"{', stopped by the clock' if result.was_stopped else ''}"
    )
    times = []
    for number in range(5):
        new = replace(problem.pieces[number % len(problem.pieces)], id="NEW")
        start = time.monotonic()
        promise(problem, result.plan, new, record=Record(), seed=1)
        times.append(time.monotonic() - start)
    print(
        f"  promise with reasons: median {sorted(times)[2]:.3f} s, worst {max(times):.3f} s"
    )
    lost = problem.pieces[3]
    layers = ((*lost.layers[0], lost.layers[0][-1]), *lost.layers[1:])
    pieces = tuple(
        replace(p, layers=layers) if p.id == lost.id else p for p in problem.pieces
    )
    start = time.monotonic()
    again = replan(replace(problem, pieces=pieces), result.plan, seed=1).least
    print(
        f"  one lost layer: {time.monotonic() - start:.2f} s, {again.moves.firings} "
        f"firings move, {again.verdict.weighted_days_late} weighted days late"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=list(REFERENCE))
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    for name in arguments.names:
        measure(name, arguments.seconds, arguments.seed)


if __name__ == "__main__":
    main()
