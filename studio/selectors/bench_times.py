"""A studio's tasks of work by hand, and what a piece takes by them."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from statistics import median, quantiles

from django.db.models import Exists, OuterRef

from studio import labour
from studio.labour import USUAL_TASKS, BenchTimes, Counted, Measures, Step, Task
from studio.models import (
    BenchTask,
    Layer,
    Pass,
    PieceEventKind,
    Studio,
    Technique,
)
from studio.selectors.pieces import (
    PieceView,
    finished_pieces,
    standing_events,
    view_pieces,
)
from studio.selectors.task_times import counted_times, minutes_by_task

# Fewer say nothing about a rule.
FEWEST_RECORDS = 5
# Of pieces, the newest say how a studio works now, and a page has to read them.
MOST_PIECES = 100
TENTH = Decimal("0.1")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedPass:
    """A burnt pass: what it took, if noted, and what its task's rule gives for it."""

    piece: int
    task: str
    minutes: int | None
    by_rule: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRecord:
    """What a studio's own records say about a task's rule.

    Attributes
    ----------
    count : int
        Records it comes from.
    of : str
        What they are records of.
    ratio, low, high : Decimal
        Median of time taken over time by the rule, and between which half of them lie.
    """

    task: Task
    count: int
    of: str
    ratio: Decimal
    low: Decimal
    high: Decimal

    @property
    def words(self) -> str:
        """Say what was found, as a share of the rule."""
        return (
            f"{self.count} of your {self.of} took {self.ratio:.0%} of this, half of them "
            f"{self.low:.0%} to {self.high:.0%}"
        )

    @property
    def taken_over(self) -> Task:
        """Return the task with the rule that the records give: the same, scaled."""
        return replace(
            self.task,
            minutes=_scaled(self.task.minutes, self.ratio),
            minutes_each=_scaled(self.task.minutes_each, self.ratio),
            minutes_per_m2=_scaled(self.task.minutes_per_m2, self.ratio),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadDays:
    """The pieces in one finished firing, and the days it was loaded and unloaded."""

    pieces: frozenset[int]
    days: frozenset[date]


LoadDaysProvider = Callable[[Studio], list[LoadDays]]

_load_days: list[LoadDaysProvider] = []


def on_load_days(provider: LoadDaysProvider) -> LoadDaysProvider:
    """Register what knows of firings."""
    _load_days.append(provider)
    return provider


def _scaled(minutes: Decimal, ratio: Decimal) -> Decimal:
    return (minutes * ratio).quantize(TENTH, ROUND_HALF_UP)


def tasks_of(studio: Studio) -> tuple[Task, ...]:
    """Return the studio's tasks in order; the usual ones if it set none."""
    names = [f.name for f in fields(Task) if f.name != "factor"]
    rows = BenchTask.owned.for_studio(studio).order_by("number", "pk").values(*names)
    return tuple(Task.from_json({**row, "factor": 1}) for row in rows) or USUAL_TASKS


def measures_of(view: PieceView) -> Measures:
    """Return what the work on a piece is counted by, all of its passes as planned."""
    piece, layers = view.piece, [one.layer for one in view.layers]
    return labour.measures(
        width_mm=piece.width_mm,
        height_mm=piece.height_mm,
        thickness_mm=view.height_mm,
        layers=len(layers),
        images=sum(one.technique != Technique.CLEAR for one in layers),
        passes=_passes(layers, Technique.PAINTED),
        decals=_passes(layers, Technique.DECAL),
    )


def _passes(layers: Iterable[Layer], technique: str) -> int:
    return sum(one.planned_passes for one in layers if one.technique == technique)


def bench_times_of(view: PieceView, tasks: tuple[Task, ...]) -> BenchTimes:
    """Return the minutes of each step of a piece."""
    return labour.bench_times(
        tasks, measures_of(view), is_maquette=view.piece.maquette_of_id is not None
    )


def minutes_by_rule(view: PieceView, task: Task) -> Decimal:
    """Return what a task's rule gives for a piece; nothing where it cannot say.

    Firings are not known here, so what is counted by them has none.
    """
    work = measures_of(view)
    if view.piece.maquette_of_id is not None:
        return task.minutes_of_maquette(work)
    return task.minutes_of(work)


def timed_passes(
    studio: Studio, tasks: Iterable[Task], *, of_finished: bool = False
) -> Iterator[TimedPass]:
    """Yield the studio's burnt passes, or only those of finished pieces."""
    rows = Pass.owned.for_studio(studio).exclude(outcome="")
    if of_finished:
        finished = standing_events().filter(
            piece=OuterRef("sheet__layer__piece"), kind=PieceEventKind.FINISHED
        )
        rows = rows.filter(Exists(finished))
    by_step = {one.step: one for one in tasks}
    of_layer = "sheet__layer__"
    for piece, technique, width, height, minutes in rows.order_by("pk").values_list(
        f"{of_layer}piece",
        f"{of_layer}technique",
        f"{of_layer}piece__width_mm",
        f"{of_layer}piece__height_mm",
        "minutes",
    ):
        is_decal = technique == Technique.DECAL
        task = by_step.get(Step.DECAL if is_decal else Step.PAINT)
        if task is None:
            continue
        one = labour.measures(
            width_mm=width,
            height_mm=height,
            thickness_mm=0,
            layers=1,
            images=1,
            passes=int(not is_decal),
            decals=int(is_decal),
        )
        yield TimedPass(
            piece=piece, task=task.key, minutes=minutes, by_rule=task.minutes_of(one)
        )


def own_records(studio: Studio) -> dict[str, OwnRecord]:
    """Return what the studio's records say about its rules, by the tasks' keys.

    Of painting and decals by the minutes noted with each pass; of what is counted by
    firings by the time each of the newest took, with whichever piece it was noted; of
    every other task by the time that each of the newest finished pieces took. A task
    with few records is left out.
    """
    tasks = tasks_of(studio)
    by_key = {one.key: one for one in tasks}
    found = {}
    for of, ratios in (
        ("passes", _ratios_of_passes(studio, tasks)),
        ("pieces", _ratios_of_pieces(studio, tasks)),
        ("firings", _ratios_of_firings(studio, tasks)),
    ):
        for key, each in ratios.items():
            if len(each) >= FEWEST_RECORDS:
                low, _, high = quantiles(each, n=4, method="inclusive")
                found[key] = OwnRecord(
                    task=by_key[key],
                    count=len(each),
                    of=of,
                    ratio=median(each),
                    low=low,
                    high=high,
                )
    return found


def _ratios_of_passes(
    studio: Studio, tasks: Iterable[Task]
) -> dict[str, list[Decimal]]:
    """Return time taken over time by the rule of each pass with its minutes noted."""
    ratios: dict[str, list[Decimal]] = defaultdict(list)
    for one in timed_passes(studio, tasks):
        if one.minutes and one.by_rule:
            ratios[one.task].append(Decimal(one.minutes) / one.by_rule)
    return ratios


def _ratios_of_pieces(
    studio: Studio, tasks: Iterable[Task]
) -> dict[str, list[Decimal]]:
    """Return the same of the newest finished pieces, for tasks not noted with passes."""
    by_piece = [one for one in tasks if one.step not in {Step.PAINT, Step.DECAL}]
    timed = counted_times().filter(piece=OuterRef("pk"))
    newest = finished_pieces(studio).filter(Exists(timed))[:MOST_PIECES]
    views = view_pieces(newest)
    taken = minutes_by_task(studio, [view.piece.pk for view in views])
    ratios: dict[str, list[Decimal]] = defaultdict(list)
    for view in views:
        minutes = taken.get(view.piece.pk, {})
        for task in by_piece:
            by_rule = minutes_by_rule(view, task)
            if task.key in minutes and by_rule:
                ratios[task.key].append(Decimal(minutes[task.key]) / by_rule)
    return ratios


def _ratios_of_firings(
    studio: Studio, tasks: Iterable[Task]
) -> dict[str, list[Decimal]]:
    """Return the same of the newest firings, for tasks that go by firings alone.

    A time belongs to the firing that held its piece and was loaded or unloaded that day.
    Firings that share such a time are left out: nobody said whose it was.
    """
    each = {
        task.key: task.minutes_each
        for task in tasks
        if task.counted == Counted.FIRING
        and task.minutes_each
        and not (task.minutes or task.minutes_per_m2)
    }
    times = counted_times().filter(studio=studio, task__in=each)
    rows = list(times.order_by("pk").values_list("task", "piece", "day", "minutes"))
    if not rows:
        return {}
    loads = [load for provider in _load_days for load in provider(studio)]
    found: dict[tuple[str, int], Decimal] = defaultdict(Decimal)
    unclear: set[tuple[str, int]] = set()
    at_work: dict[tuple[int, date], list[int]] = defaultdict(list)
    for number, load in enumerate(loads):
        for piece in load.pieces:
            for day in load.days:
                at_work[piece, day].append(number)
    for task, piece, day, minutes in rows:
        held = at_work.get((piece, day), [])
        if len(held) > 1:
            unclear |= {(task, number) for number in held}
        for number in held:
            found[task, number] += Decimal(minutes or 0)
    ratios: dict[str, list[Decimal]] = defaultdict(list)
    for (task, number), taken in found.items():
        if (task, number) not in unclear:
            ratios[task].append(taken / each[task])
    return ratios
