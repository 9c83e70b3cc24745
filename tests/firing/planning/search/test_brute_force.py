"""Tiny studios whose best plan is found here by trying everything, without the planner.

One kiln, one artist, one finisher, who each do one thing a day: a day's window is as
long as every task. Whoever paints in the morning may load in the evening; an enamel
firing takes one night, a fuse two. So a plan is a choice per day, and all of them can be
tried.
"""

from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations

import pytest

from firing.planning.problem.problem import Fuse
from firing.planning.problem.problem_tables import Facts
from firing.planning.proofs.bounds import lower_bounds
from firing.planning.proofs.check import check_plan
from firing.planning.proofs.lateness import least_lateness
from firing.planning.proofs.model import SolverLimits
from firing.planning.search.construct import first_plan
from firing.planning.search.improve import Limits
from firing.planning.search.planner import make_plan
from firing.planning.search.publish import to_plan
from studio.seeded_random import Dice
from tests.firing.planning.instances import (
    FINISHER,
    KILN,
    KIND,
    PAINTER,
    days,
    one_pass,
    piece,
    studio,
)

EVERY_DAY = tuple(range(7))
TASK = 2
LAST_DAY = 26
BURN, FUSE_RUN = 30, 2 * 48 - 4
UNFIRED, ASSEMBLED = -2, -1


@dataclass(frozen=True)
class Tiny:
    """Passes per layer of each piece, due days, weights, layers per firing."""

    layers: tuple[tuple[int, ...], ...]
    due: tuple[int, ...]
    weight: tuple[int, ...]
    per_firing: int


def as_problem(tiny):
    kiln = replace(
        KILN,
        width_mm=300 * tiny.per_firing + 15 * (tiny.per_firing - 1),
        depth_mm=300,
        kwh_per_enamel_firing=BURN,
        kwh_per_day_fuse=48,
    )
    morning, evening = days(16, 18, EVERY_DAY), days(20, 24, EVERY_DAY)
    pieces = [
        piece(
            f"P{n}",
            due_day=tiny.due[n],
            weight=tiny.weight[n],
            layers=tuple((one_pass(TASK),) * count for count in layers),
            # Loaded in the evening of a day, out in the evening two days later.
            fuse=Fuse(temp_f=1490, run=FUSE_RUN, load=1, unload=1),
            assembly=TASK,
            coldwork=TASK,
            ship_days=0,
        )
        for n, layers in enumerate(tiny.layers)
    ]
    return studio(
        *pieces,
        access=evening,
        kinds=(replace(KIND, run=42, load=1, unload=1),),
        kilns=(kiln,),
        people=(
            replace(PAINTER, available=morning, weekly_cap=7 * TASK),
            replace(FINISHER, available=morning, weekly_cap=7 * TASK),
        ),
    )


def changed(values, at, value):
    return (*values[:at], value, *values[at + 1 :])


def best_of_all(tiny):
    """Least weighted days late, then firings, over every choice of every day.

    A layer's progress counts two for each pass that is out of the kiln again and one
    for painting the next. A piece is unfired, assembled, or carries the day on which
    its fuse is unloaded.
    """
    pieces = range(len(tiny.layers))

    def mornings(progress, stage):
        """Yield what the artist may do with one morning."""
        yield progress, stage
        for n in pieces:
            passes = tiny.layers[n]
            for at, done in enumerate(progress[n]):
                if done % 2 == 0 and done < 2 * passes[at]:
                    painted = changed(progress[n], at, done + 1)
                    yield changed(progress, n, painted), stage
            is_out = all(d == 2 * p for d, p in zip(progress[n], passes, strict=True))
            if stage[n] == UNFIRED and is_out:
                yield progress, changed(stage, n, ASSEMBLED)

    def evenings(day, progress, stage, is_empty):
        """Yield what the kiln may be loaded with: state, layers in it, until, firings."""
        yield stage, (), 0, 0
        if not is_empty:
            return
        for n in pieces:
            if stage[n] == ASSEMBLED:
                yield changed(stage, n, day + 2), (), day + 2, 0
        waiting = [(n, at) for n in pieces for at, d in enumerate(progress[n]) if d % 2]
        for size in range(1, tiny.per_firing + 1):
            for load in combinations(waiting, size):
                yield stage, load, day + 1, 1

    @cache
    def best(day, progress, stage, inside, until, finished):
        if all(finished):
            return 0, 0
        if day > LAST_DAY:
            return 10**6, 0
        results = []
        fused = [n for n in pieces if not finished[n] and 0 <= stage[n] < day]
        for done in (None, *fused):
            cost, after = 0, finished
            if done is not None:
                cost = tiny.weight[done] * max(0, day - tiny.due[done])
                after = changed(finished, done, True)
            for worked, assembled in mornings(progress, stage):
                out = worked
                for n, at in inside:
                    out = changed(out, n, changed(out[n], at, out[n][at] + 1))
                for stages, load, busy, firings in evenings(
                    day, out, assembled, until <= day
                ):
                    rest = best(day + 1, out, stages, load, busy or until, after)
                    results.append((rest[0] + cost, rest[1] + firings))
        return min(results)

    start = tuple((0,) * len(layers) for layers in tiny.layers)
    flags = (False,) * len(tiny.layers)
    return best(0, start, (UNFIRED,) * len(tiny.layers), (), 0, flags)


def drawn(seed):
    dice = Dice(seed)
    shapes = [((1,),), ((1, 1),), ((2,),), ((1,), (1,)), ((1, 1), (1,)), ((2,), (1,))]
    layers = dice.pick(shapes)
    return Tiny(
        layers=layers,
        due=tuple(4 + dice.below(8) for _ in layers),
        weight=tuple(1 + dice.below(3) for _ in layers),
        per_firing=1 + dice.below(2),
    )


def test_the_days_of_one_plain_piece_counted_by_hand():
    # Painted on day 0, fired in its night, out on the evening of day 1, assembled on
    # day 2, in the kiln until the evening of day 4, finished on day 5.
    tiny = Tiny(layers=((1,),), due=(3,), weight=(2,), per_firing=1)
    assert best_of_all(tiny) == (2 * (5 - 3), 1)
    assert first_plan(Facts(as_problem(tiny))).score[:2] == (0, 4)


@pytest.mark.parametrize("seed", range(14))
def test_a_tiny_studio_against_every_plan_there_is(seed):
    tiny = drawn(seed)
    problem = as_problem(tiny)
    late, firings = best_of_all(tiny)
    result = make_plan(problem, seed=seed, limits=Limits(units=20_000))
    assert check_plan(problem, result.plan).is_valid
    assert (result.verdict.weighted_days_late, len(result.plan.firings)) == (
        late,
        firings,
    )
    # The bounds and the list plan lie on their sides of the best.
    facts = Facts(problem)
    bounds = lower_bounds(facts)
    together = least_lateness(facts, SolverLimits(deterministic_time=1, seconds=60))
    assert bounds.weighted_days_late <= late
    assert together <= late
    assert sum(bounds.nights.values()) <= firings
    fuses = 48 * FUSE_RUN / 48 * len(tiny.layers)
    assert bounds.kwh <= fuses + BURN * firings + 1e-6
    board = first_plan(facts)
    assert (0, late) <= board.score[:2]
    assert check_plan(problem, to_plan(board)).is_valid
