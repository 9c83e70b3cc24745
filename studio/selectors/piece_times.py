"""What a piece took so far beside what its rules give, and what is likely done next."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from studio.labour import Counted, Step, Task
from studio.selectors.bench_times import measures_of, minutes_by_rule
from studio.selectors.pieces import PieceView
from studio.selectors.task_times import minutes_by_task, pass_task, task_times
from studio.stages import Stage

# Nothing more is done to these; what was done before may still be typed.
NOT_TIMED = frozenset({Stage.LOST, Stage.STOPPED})
BAR = 1000

STEPS: dict[Stage, tuple[Step, ...]] = {
    Stage.READY_TO_STACK: (Step.ASSEMBLE,),
    Stage.TO_INSPECT: (Step.FINISH,),
    Stage.FINISHED: (Step.FINISH,),
}
LOADED = frozenset({Stage.PAINTING, Stage.STACKED, Stage.TACKED, Stage.FIRE_AGAIN})


def likely_task(
    view: PieceView, tasks: Sequence[Task], taken: Mapping[str, int]
) -> Task | None:
    """Return the task that is most likely next: of the stage, not begun, in order.

    Once each of them has its time, the last is offered again. `taken` are the piece's
    minutes so far.
    """
    if view.stage in NOT_TIMED:
        return None
    one_firing = replace(measures_of(view), firings=1)
    offered = [
        task
        for task in _of_stage(view, tasks)
        if task.step in {Step.PAINT, Step.DECAL} or task.by_rule(one_firing)
    ]
    fresh = (one for one in offered if one.key not in taken)
    return next(fresh, offered[-1] if offered else None)


def _of_stage(view: PieceView, tasks: Sequence[Task]) -> Iterator[Task]:
    """Yield the tasks of a piece's stage in the order of the work."""
    next_pass = next((one for one in view.layers if one.pass_to_paint), None)
    steps = STEPS.get(view.stage, ())
    if view.stage is Stage.PLANNED:
        steps = (Step.PREPARE,)
    yield from (task for task in tasks if task.step in steps)
    if next_pass is not None and view.stage in {Stage.PLANNED, Stage.PAINTING}:
        key = pass_task(next_pass.layer.technique)
        yield from (task for task in tasks if task.key == key)
    elif view.stage in LOADED:
        yield from (task for task in tasks if task.counted == Counted.FIRING)


def paint_task(view: PieceView, tasks: Sequence[Task]) -> Task | None:
    """Return the task of the pass that is painted next, if one waits."""
    waiting = (one.layer.technique for one in view.layers if one.pass_to_paint)
    key = next((pass_task(technique) for technique in waiting), "")
    return next((task for task in tasks if task.key == key), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskBar:
    """What a task took of a piece, beside what its rule gives, drawn to one scale.

    `usual` is nothing where the rule cannot say. Widths are thousandths of the bar.
    """

    name: str
    minutes: int
    usual: int
    width: int
    usual_x: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceTimes:
    """A piece's time, task by task, in the order of the work."""

    bars: tuple[TaskBar, ...]
    total: int
    likely: Task | None


def piece_times(view: PieceView, tasks: Sequence[Task]) -> PieceTimes:
    """Return what a piece took so far, and what is likely done next."""
    taken = minutes_by_task(view.piece.studio, [view.piece.pk]).get(view.piece.pk, {})
    names = {task.key: task.name for task in tasks}
    # Of a task that the studio has no more, the name it had then.
    gone = task_times(view.piece.studio).filter(piece=view.piece)
    if taken.keys() - names.keys():
        names |= {
            key: name
            for key, name in gone.values_list("task", "task_name")
            if key not in names
        }
    usual = {task.key: int(minutes_by_rule(view, task)) for task in tasks}
    shown = [key for key in names if key in taken]
    longest = max((max(taken[key], usual.get(key, 0)) for key in shown), default=1)
    return PieceTimes(
        bars=tuple(
            TaskBar(
                name=names[key],
                minutes=taken[key],
                usual=usual.get(key, 0),
                width=round(taken[key] * BAR / longest),
                usual_x=round(usual.get(key, 0) * BAR / longest),
            )
            for key in shown
        ),
        total=sum(taken.values()),
        likely=likely_task(view, tasks, taken),
    )
