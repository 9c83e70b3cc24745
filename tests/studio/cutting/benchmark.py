"""Prints the cutting plans of published instances beside the best known, and 200 parts.

python -m tests.studio.cutting.benchmark
"""

import time

from studio.cutting.check import faults
from studio.cutting.plan import cutting_plan, use_of
from studio.cutting.problem import Part, Problem, Stock, Terms
from studio.seeded_random import Dice
from tests.studio.cutting.instances import GCUT, HOPPER, HOPPER_SIDE

NOTHING_KEPT = Terms(smallest_offcut=10**6)
GOAL_S = 2.0


def largest_area(side: int, pieces: list[tuple[int, int]]) -> Problem:
    """Return an instance with as many of each piece as the area has room for."""
    parts = tuple(
        Part(width=wide, height=high, count=max(1, side * side // (wide * high)))
        for wide, high in pieces
    )
    sheet = Stock(width=side, height=side, count=1)
    return Problem(parts=parts, stock=(sheet,), terms=NOTHING_KEPT)


def one_of_each(side: int, pieces: list[tuple[int, int]]) -> Problem:
    """Return an instance with each piece once and a single sheet."""
    parts = tuple(Part(width=wide, height=high) for wide, high in pieces)
    sheet = Stock(width=side, height=side, count=1)
    return Problem(parts=parts, stock=(sheet,), terms=NOTHING_KEPT)


def workshop(count: int, *, seed: int) -> Problem:
    """Return so many parts of invented sizes, with offcuts and sheets to cut them from."""
    dice, parts, left = Dice(seed), [], count
    while left:
        some = min(left, dice.pick((1, 4, 9, 12, 20)))
        size = {"width": 800 + dice.below(3200), "height": 800 + dice.below(3200)}
        parts.append(Part(**size, count=some))
        left -= some
    stock = (
        Stock(width=8890, height=5080),
        Stock(width=3000, height=2500, count=3, is_offcut=True),
    )
    return Problem(parts=tuple(parts), stock=stock, terms=Terms(grinding=10))


def main() -> None:
    rows = [(name, *instance) for name, instance in GCUT.items()]
    for name, side, best, pieces in rows:
        _print(name, largest_area(side, pieces), side * side, best)
    for name, pieces in HOPPER.items():
        whole = HOPPER_SIDE**2
        _print(name, one_of_each(HOPPER_SIDE, pieces), whole, whole)
    for seed in range(1, 4):
        problem = workshop(200, seed=seed)
        began = time.perf_counter()
        plan = cutting_plan(problem)
        took = time.perf_counter() - began
        use = use_of(problem, plan.layouts)
        wrong = faults(problem, plan)
        print(
            f"200 parts, {len(problem.parts)} sizes: {len(plan.layouts)} sheets, "
            f"{use.waste_percent:.1f} % waste, {took:.2f} s of {GOAL_S} s, "
            f"{len(wrong)} faults"
        )


def _print(name: str, problem: Problem, whole: int, best: int) -> None:
    began = time.perf_counter()
    plan = cutting_plan(problem)
    took = time.perf_counter() - began
    area = use_of(problem, plan.layouts).parts
    print(
        f"{name}: waste {100 - 100 * area / whole:.2f} %, best known "
        f"{100 - 100 * best / whole:.2f} %, {took:.2f} s, "
        f"{len(faults(problem, plan))} faults"
    )


if __name__ == "__main__":
    main()
