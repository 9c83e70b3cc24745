"""The checker finds each broken rule in a plan that is otherwise right."""

from dataclasses import replace

import pytest

from firing.planning.problem.problem import Skill
from firing.planning.problem.problem_tables import Facts
from firing.planning.proofs.check import check_plan
from firing.planning.search.construct import first_plan
from firing.planning.search.publish import to_plan
from tests.firing.planning.instances import (
    KILN,
    KIND,
    PAINTER,
    fixed,
    one_pass,
    piece,
    studio,
)

TWO_PASSES = piece(layers=((one_pass(), one_pass()), (one_pass(),)))
OTHER_KIND = replace(KIND, id="other", run=24)
PROBLEM = studio(
    TWO_PASSES,
    piece("P2"),
    kinds=(KIND, OTHER_KIND),
    kilns=(
        KILN,
        replace(KILN, id="K2", kwh_per_enamel_firing=40, kwh_per_day_fuse=60),
        replace(KILN, id="cold", max_temp_f=900, kwh_per_enamel_firing=99),
        replace(KILN, id="low", height_mm=50, kwh_per_enamel_firing=99),
        replace(KILN, id="small", width_mm=200, kwh_per_enamel_firing=99),
    ),
)
PLAN = to_plan(first_plan(Facts(PROBLEM)))


def rules(plan, problem=PROBLEM):
    return {fault.rule for fault in check_plan(problem, plan).faults}


def with_firing(number=0, **changes):
    firings = list(PLAN.firings)
    firings[number] = replace(firings[number], **changes)
    return replace(PLAN, firings=tuple(firings))


def with_fuse(**changes):
    return replace(PLAN, fuses=(replace(PLAN.fuses[0], **changes), *PLAN.fuses[1:]))


def with_task(task, **changes):
    work = [replace(one, **changes) if one == task else one for one in PLAN.work]
    return replace(PLAN, work=tuple(work))


def task(skill, name="P1", position=None):
    return next(
        one
        for one in PLAN.work
        if (one.task, one.piece) == (skill, name)
        and (position is None or one.position == position)
    )


def moved(segments, by):
    return tuple((start + by, end + by) for start, end in segments)


def items_moved(**changes):
    items = PLAN.firings[0].items
    return with_firing(items=(replace(items[0], **changes), *items[1:]))


def test_the_plan_itself_is_right():
    verdict = check_plan(PROBLEM, PLAN)
    assert verdict.is_valid, verdict.faults
    assert verdict.undelivered == 0
    # Three firings at 30 kWh or more, two fuses of 100/48 days.
    fuses = sum({"K1": 48, "K2": 60}[fuse.kiln] * 100 / 48 for fuse in PLAN.fuses)
    firings = sum({"K1": 30, "K2": 40}[one.kiln] for one in PLAN.firings)
    assert verdict.kwh == pytest.approx(fuses + firings)


BROKEN = {
    "names": lambda: with_firing(kiln="nowhere"),
    "once": lambda: with_firing(items=PLAN.firings[0].items[1:]),
    "kind": lambda: with_firing(kind="other"),
    "too cold": lambda: with_firing(kiln="cold"),
    "off the shelf": lambda: items_moved(x_mm=900.0),
    "gap": lambda: items_moved(
        x_mm=PLAN.firings[0].items[1].x_mm + 310, y_mm=PLAN.firings[0].items[1].y_mm
    ),
    "access": lambda: with_firing(load_start=PLAN.firings[0].load_start + 20),
    "opened early": lambda: with_firing(unload_start=PLAN.firings[0].unload_start - 5),
    "too low": lambda: with_fuse(kiln="low"),
    "too small": lambda: with_fuse(kiln="small"),
    "skill": lambda: with_task(task(Skill.COLDWORK), person="A1"),
    "artist": lambda: with_task(task(Skill.PAINT), person="F1"),
    "available": lambda: with_task(
        task(Skill.COLDWORK),
        segments=moved(task(Skill.COLDWORK).segments, 48 * 40 + 20),
    ),
    "one thing": lambda: with_task(
        task(Skill.PAINT), segments=task(Skill.PAINT, "P2").segments
    ),
    "labour": lambda: with_task(
        task(Skill.ASSEMBLE),
        segments=(
            (
                task(Skill.ASSEMBLE).segments[0][0],
                task(Skill.ASSEMBLE).segments[0][0] + 1,
            ),
        ),
    ),
    "order": lambda: with_task(task(Skill.ASSEMBLE), segments=((18, 22),)),
    "delivery": lambda: replace(PLAN, delivery={**PLAN.delivery, "P1": 1}),
    "horizon": lambda: with_fuse(load_start=5000, unload_start=5200),
}


@pytest.mark.parametrize("rule", BROKEN)
def test_a_broken_rule_is_found(rule):
    assert rule in rules(BROKEN[rule]())


def test_two_firings_in_one_kiln_are_found():
    first, second = PLAN.firings[:2]
    plan = with_firing(
        1, load_start=first.load_start, unload_start=first.unload_start, kiln=first.kiln
    )
    assert second.id != first.id
    assert "one firing" in rules(plan)


@pytest.mark.parametrize(
    "blocked",
    [
        {"fixed": (fixed(PLAN.firings[0].load_start, 64, PLAN.firings[0].kiln),)},
        {
            "kilns": tuple(
                replace(kiln, maintenance=((PLAN.firings[0].load_start + 5, 50),))
                for kiln in PROBLEM.kilns
            )
        },
    ],
)
def test_a_kiln_that_is_not_to_be_had_is_found(blocked):
    assert "one firing" in rules(PLAN, replace(PROBLEM, **blocked))


def test_the_weekly_limit_is_found():
    tired = replace(PROBLEM, people=(replace(PAINTER, weekly_cap=3), PROBLEM.people[1]))
    assert "weekly cap" in rules(PLAN, tired)


def test_work_before_the_release_is_found():
    late = replace(
        PROBLEM, pieces=(replace(TWO_PASSES, release=500), PROBLEM.pieces[1])
    )
    assert "order" in rules(PLAN, late)


def test_a_second_pass_painted_before_the_first_is_unloaded_is_found():
    second = task(Skill.PAINT, position=1)
    plan = with_task(second, segments=((20, 22),))
    assert "order" in rules(plan)


def test_what_is_said_to_be_out_must_be_out():
    assert "once" in rules(replace(PLAN, undelivered=("P1",)))


def test_a_kiln_barred_for_a_piece_is_found_and_never_planned():
    barred = frozenset({"K1"})
    changed = tuple(
        replace(one, layers_not_in=barred, stack_not_in=barred)
        for one in PROBLEM.pieces
    )
    problem = replace(PROBLEM, pieces=changed)
    assert "barred" in rules(PLAN, problem)
    plan = to_plan(first_plan(Facts(problem)))
    assert not plan.undelivered
    assert {one.kiln for one in (*plan.firings, *plan.fuses)} == {"K2"}
    assert not rules(plan, problem)
