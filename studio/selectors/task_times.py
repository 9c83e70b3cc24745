"""How long pieces took, task by task: what was timed, typed, and noted with passes."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Q, Sum

from studio.labour import DECALS, PAINTING
from studio.models import (
    LOST,
    Pass,
    Person,
    Piece,
    Studio,
    TaskTime,
    Technique,
)
from studio.tenancy import StudioQuerySet

MINUTE = timedelta(minutes=1)
# A timer that ran longer, or into another day and this long, was forgotten. No source.
LONGEST_AT_ONCE = timedelta(hours=12)
LONGEST_OVER_MIDNIGHT = timedelta(hours=4)


def pass_task(technique: str) -> str:
    """Return the key of the task that a pass of this technique belongs to."""
    return DECALS if technique == Technique.DECAL else PAINTING


def task_times(studio: Studio) -> StudioQuerySet[TaskTime]:
    """Return every time recorded in the studio, taken back or not, newest first."""
    found: StudioQuerySet[TaskTime] = TaskTime.owned.for_studio(studio)
    return found.select_related("piece", "person").order_by("-day", "-recorded_at")


def _in_passes() -> Exists:
    """Ask the database whether passes are painted that a time went into."""
    painted = Pass.across_studios.filter(
        task_times=OuterRef("pk"), painted_at__isnull=False
    )
    return Exists(painted)


def counted_times() -> StudioQuerySet[TaskTime]:
    """Return what counts by itself, in every studio.

    Not taken back, not running, and not gone into passes that are painted.
    """
    found: StudioQuerySet[TaskTime] = TaskTime.across_studios.filter(
        ~_in_passes(), minutes__isnull=False, taken_back_at__isnull=True
    )
    return found


def times_of_piece(piece: Piece) -> list[TaskTime]:
    """Return every time of a piece, newest first, each with `is_in_passes`."""
    return list(
        task_times(piece.studio)
        .filter(piece=piece)
        .annotate(is_in_passes=_in_passes())
        .order_by("-day", "-recorded_at", "-pk")
    )


def minutes_by_task(
    studio: Studio, pieces: Iterable[int] | None = None
) -> dict[int, dict[str, int]]:
    """Return minutes by piece and the key of the task, of what stands; of all without any.

    What is noted with passes of paint and of decals is among them, on sheets that were
    set aside too; nothing counts twice. A piece without any is left out.
    """
    times = counted_times().filter(studio=studio)
    passes = Pass.owned.for_studio(studio).filter(minutes__gt=0)
    if pieces is not None:
        keys = list(pieces)
        times = times.filter(piece__in=keys)
        passes = passes.filter(sheet__layer__piece__in=keys)
    found: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for row in times.order_by().values("piece", "task").annotate(sum=Sum("minutes")):
        found[row["piece"]][row["task"]] += row["sum"]
    piece, technique = "sheet__layer__piece", "sheet__layer__technique"
    of_passes = passes.order_by().values(piece, technique)
    for row in of_passes.annotate(sum=Sum("minutes")):
        found[row[piece]][pass_task(row[technique])] += row["sum"]
    return {key: dict(tasks) for key, tasks in found.items()}


def lost_minutes(studio: Studio, pieces: Iterable[int]) -> int:
    """Return the minutes of passes that were lost, or are on sheets set aside."""
    lost = Q(outcome__in=LOST) | Q(sheet__set_aside_at__isnull=False)
    rows = Pass.owned.for_studio(studio).filter(
        lost, sheet__layer__piece__in=list(pieces)
    )
    return int(rows.aggregate(total=Sum("minutes"))["total"] or 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningTimer:
    """Somebody's timer, and how long it has run.

    A forgotten one is not stopped before somebody says how long the work took.
    """

    time: TaskTime
    minutes: int
    is_forgotten: bool


def running_row(studio: Studio, person: int) -> TaskTime | None:
    """Return the row of the timer that a person has running in the studio."""
    running = task_times(studio).filter(
        person_id=person, minutes__isnull=True, taken_back_at__isnull=True
    )
    found: TaskTime | None = running.select_related("piece", "studio").first()
    return found


def running_timer(studio: Studio, person: int, now: datetime) -> RunningTimer | None:
    """Return the timer that a person has running in the studio."""
    row = running_row(studio, person)
    return None if row is None else as_running(row, now)


def as_running(time: TaskTime, now: datetime) -> RunningTimer:
    """Return a timer that was not stopped, as it stands now."""
    started = time.started_at or now
    return RunningTimer(
        time=time,
        minutes=minutes_between(started, now),
        is_forgotten=is_forgotten(started, now, ZoneInfo(time.studio.time_zone)),
    )


def is_forgotten(started_at: datetime, now: datetime, zone: ZoneInfo) -> bool:
    """Return whether a timer ran longer than anybody works at once."""
    ran = now - started_at
    is_another_day = started_at.astimezone(zone).date() != now.astimezone(zone).date()
    return ran > LONGEST_AT_ONCE or (is_another_day and ran > LONGEST_OVER_MIDNIGHT)


def minutes_between(started_at: datetime, ended_at: datetime) -> int:
    """Return whole minutes, at least one."""
    return max(1, round((ended_at - started_at) / MINUTE))


def local_day(studio: Studio, at: datetime) -> date:
    """Return the day of an instant by the studio's clock."""
    return at.astimezone(ZoneInfo(studio.time_zone)).date()


def waiting_for_passes(person: Person, piece: int, task: str) -> list[TaskTime]:
    """Return a person's times of painting that are in no pass's minutes yet."""
    return list(counted_times().filter(person=person, piece=piece, task=task))


def painting_timed(piece: Piece, person: Person, now: datetime) -> int:
    """Return the minutes that go into what a person records as painted next."""
    minutes = sum(
        one.minutes or 0
        for key in (PAINTING, DECALS)
        for one in waiting_for_passes(person, piece.pk, key)
    )
    row = running_row(piece.studio, person.pk)
    if row is not None and row.piece_id == piece.pk and row.task in (PAINTING, DECALS):
        running = as_running(row, now)
        minutes += 0 if running.is_forgotten else running.minutes
    return minutes
