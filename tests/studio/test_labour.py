"""Rules for work by hand: minutes that scale with the work, and what plans make of them."""

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.labour import (
    USUAL_TASKS,
    Area,
    Counted,
    Step,
    Task,
    bench_times,
    measures,
)

INCH = 25.4
BY_KEY = {task.key: task for task in USUAL_TASKS}


def stack(width=12, height=8, layers=20, passes=1, caps=1, firings=8):
    images = layers - caps
    return measures(
        width_mm=width * INCH,
        height_mm=height * INCH,
        thickness_mm=layers * 3,
        layers=layers,
        images=images,
        passes=images * passes,
        decals=0,
        firings=firings,
    )


def hours(work):
    return sum(task.minutes_of(work) for task in USUAL_TASKS) / 60


def test_a_painted_piece_of_twenty_layers_takes_sixty_to_a_hundred_hours():
    # What makers expect of 12 x 8 in: common practice, no source.
    assert 60 <= hours(stack()) <= 100
    assert 60 <= hours(stack(passes=2)) <= 100


def test_a_rule_worked_by_hand():
    # 19 passes of 15 min; 19 times 0.3048 x 0.2032 m, at 1000 min a square metre:
    # 285 + 1176.77
    assert BY_KEY["painting"].minutes_of(stack()) == 1462
    # 30 min, and 2 x (0.3048 + 0.2032) x 0.06 m² of edge at 4500 min: 30 + 274.32
    assert BY_KEY["edges"].minutes_of(stack()) == 304
    # 20 layers of 4 cuts, 3 min each.
    assert BY_KEY["cutting"].minutes_of(stack()) == 240


def test_cold_work_and_stacking_grow_with_the_piece():
    small, large = stack(4, 3), stack(20, 16)
    for key in ("edges", "faces", "painting", "dams"):
        assert BY_KEY[key].minutes_of(small) < BY_KEY[key].minutes_of(large)
    assert BY_KEY["stacking"].minutes_of(stack(layers=6)) < BY_KEY[
        "stacking"
    ].minutes_of(stack(layers=20))


SIDES = st.floats(20, 2000)


@given(
    width=SIDES,
    height=SIDES,
    layers=st.integers(2, 60),
    passes=st.integers(1, 12),
    more=st.floats(0, 500),
)
def test_larger_more_layers_more_passes_never_take_less(
    width, height, layers, passes, more
):
    def total(width, height, layers, passes):
        work = measures(
            width_mm=width,
            height_mm=height,
            thickness_mm=layers * 3,
            layers=layers,
            images=layers - 1,
            passes=(layers - 1) * passes,
            decals=0,
        )
        return sum(task.minutes_of(work) for task in USUAL_TASKS)

    before = total(width, height, layers, passes)
    assert total(width + more, height, layers, passes) >= before
    assert total(width, height + more, layers, passes) >= before
    assert total(width, height, layers + 1, passes) >= before
    assert total(width, height, layers, passes + 1) >= before


def test_what_there_is_nothing_of_takes_no_time():
    setup = replace(BY_KEY["decals"], minutes=Decimal(60))
    assert setup.minutes_of(stack()) == 0


def test_a_maquette_takes_nothing_of_what_is_done_once():
    client = BY_KEY["client"]
    assert client.minutes_of(stack()) == 180
    assert client.minutes_of(stack(), stack(6, 4)) == 180
    assert client.minutes_of_maquette(stack(6, 4)) == 0


@given(minutes=st.integers(0, 60_000), key=st.sampled_from(sorted(BY_KEY)))
def test_minutes_set_for_one_work_are_those_minutes(minutes, key):
    task, stacks = BY_KEY[key], (stack(), stack(6, 4, layers=9))
    by_rule = task.by_rule(*stacks)
    assert task.set_to(Decimal(minutes), by_rule=by_rule).minutes_of(*stacks) == minutes


def test_minutes_set_where_a_larger_work_comes_grow_with_it():
    task = BY_KEY["painting"]
    twice = task.set_to(2 * task.minutes_of(stack()), by_rule=task.minutes_of(stack()))
    assert twice.minutes_of(stack(24, 16)) == pytest.approx(
        2 * task.minutes_of(stack(24, 16)), abs=1
    )


@given(
    st.builds(
        Task,
        key=st.just("own-1"),
        name=st.text(min_size=1, max_size=20),
        step=st.sampled_from(Step),
        minutes=st.decimals(0, 9999, places=4),
        counted=st.sampled_from(Counted),
        minutes_each=st.decimals(0, 999, places=4),
        area=st.sampled_from(Area),
        minutes_per_m2=st.decimals(0, 99999, places=4),
        is_once=st.booleans(),
        factor=st.decimals("0.01", 99),
    )
)
def test_a_task_is_kept_exactly(task):
    assert Task.from_json(task.as_json()) == task


def test_plans_have_the_minutes_of_each_step():
    work = stack()
    times = bench_times(USUAL_TASKS, work)
    assert times.painting_minutes_per_pass == 77  # 1462 / 19, begun minutes whole
    # Design 120 + 19 x 20, cutting 240, over 20 layers.
    assert times.cutting_minutes_per_layer == 37
    by_step = {
        step: sum(t.minutes_of(work) for t in USUAL_TASKS if t.step is step)
        for step in Step
    }
    assert times.assembly_minutes == by_step[Step.ASSEMBLE]
    assert times.coldwork_minutes == by_step[Step.FINISH]
    assert times.minutes_of_pass(is_decal=True) == 0
