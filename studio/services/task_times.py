"""Records how long somebody worked at a task: with a timer, or typed.

A timer is a row that waits for its minutes: nothing is lost when a phone is closed. Each
person has one running; starting another stops it.
"""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from studio.errors import Refused
from studio.labour import Task
from studio.models import MOST_MINUTES_AT_ONCE, Pass, Person, Piece, TaskTime
from studio.selectors.bench_times import tasks_of
from studio.selectors.piece_times import NOT_TIMED
from studio.selectors.task_times import (
    as_running,
    local_day,
    minutes_between,
    pass_task,
    running_row,
    waiting_for_passes,
)
from studio.services import history
from studio.services.locks import held, lock_piece
from studio.undo import ONE_TAP, because, checked_reason
from studio.viewer import Viewer


@transaction.atomic
def start_timer(*, piece: Piece, task: str, by: Person, at: datetime) -> TaskTime:
    """Start a person's timer; the one that ran before is stopped.

    Pressed twice, it goes on.

    Raises
    ------
    Refused
        When the studio has no such task, nothing more is done to the piece, or the one
        that ran before was forgotten.
    """
    found = _task(piece, task)
    held(Person.objects).get(pk=by.pk)
    before = running_row(piece.studio, by.pk)
    if before is not None and (before.piece_id, before.task) == (piece.pk, task):
        return before
    view = lock_piece(piece)
    if view.stage in NOT_TIMED:
        raise Refused(
            f"{piece.title} is {view.stage_words.lower()}. Type in the time of work that "
            "was done before."
        )
    if before is not None:
        stop_timer(time=before, by=by, at=at)
    made: TaskTime = TaskTime.across_studios.create(
        studio=piece.studio,
        piece=piece,
        task=found.key,
        task_name=found.name,
        person=by,
        started_at=at,
        day=local_day(piece.studio, at),
        recorded_at=at,
        recorded_by=by,
    )
    return made


@transaction.atomic
def stop_timer(
    *, time: TaskTime, by: Person, at: datetime, minutes: int | None = None
) -> TaskTime:
    """Stop a timer. Typed minutes are taken in place of those it ran.

    Pressed twice, the first counts.

    Raises
    ------
    Refused
        When it was forgotten and no minutes are typed, it was stopped already and some
        are, or it was taken back.
    """
    current = _held(time)
    if current.minutes is not None:
        if minutes is not None:
            raise Refused("That timer was stopped already. Correct its time instead.")
        return current
    _refuse_taken_back(current)
    if minutes is None and as_running(current, at).is_forgotten:
        since = _viewer(current).moment(current.started_at or at, at)
        raise Refused(
            f"The timer of {current} has run since {since}. Say how long it took."
        )
    current.minutes = _checked(_ran(current, at) if minutes is None else minutes)
    current.ended_at = at if minutes is None else None
    current.recorded_at = at
    current.recorded_by = by
    current.save()
    _note(current, by, at, _words(current))
    return current


@transaction.atomic
def resume_timer(*, time: TaskTime, by: Person, at: datetime) -> TaskTime:
    """Let a timer run on that was stopped by a slip of the finger.

    Raises
    ------
    Refused
        When it was not stopped just now, another one runs, or painting was recorded
        with its minutes.
    """
    if time.person_id is not None:
        held(Person.objects).get(pk=time.person_id)
    current = _held(time)
    if current.ended_at is None and current.minutes is None:
        return current
    _refuse_taken_back(current)
    _refuse_in_passes(current)
    if current.ended_at is None or at - current.ended_at > ONE_TAP:
        raise Refused("It was stopped a while ago. Start it again instead.")
    _refuse_second(current)
    current.minutes = current.ended_at = None
    current.save()
    _note(current, by, at, f"{current.task_name} goes on after all")
    return current


@transaction.atomic
def record_time(
    *,
    piece: Piece,
    task: str,
    minutes: int,
    day: date,
    note: str,
    by: Person,
    at: datetime,
) -> TaskTime:
    """Record typed minutes of a person's own work.

    Raises
    ------
    Refused
        When the studio has no such task, the day is to come, or it is more than a day.
    """
    found = _task(piece, task)
    _refuse_future(piece, day, at)
    made: TaskTime = TaskTime.across_studios.create(
        studio=piece.studio,
        piece=piece,
        task=found.key,
        task_name=found.name,
        person=by,
        minutes=_checked(minutes),
        day=day,
        note=note.strip(),
        recorded_at=at,
        recorded_by=by,
    )
    _note(made, by, at, _words(made))
    return made


@transaction.atomic
def correct_time(
    *,
    time: TaskTime,
    task: str,
    minutes: int,
    day: date,
    note: str,
    reason: str,
    by: Person,
    at: datetime,
) -> TaskTime:
    """Correct a recorded time; the history says what it was.

    Raises
    ------
    Refused
        When it still runs, was taken back, is in the minutes of passes, or it is late
        and no reason is given.
    """
    current = _held(time)
    _refuse_taken_back(current)
    _refuse_running(current)
    _refuse_in_passes(current)
    _refuse_future(current.piece, day, at)
    given = checked_reason(reason, recorded_at=current.recorded_at, now=at)
    before = _words(current)
    if task != current.task:
        found = _task(current.piece, task)
        current.task, current.task_name = found.key, found.name
    current.minutes, current.day = _checked(minutes), day
    current.note = note.strip()
    current.save()
    after = _words(current)
    if after != before:
        _note(current, by, at, f"Corrected {before} to {after}{because(given)}")
    return current


@transaction.atomic
def take_back_time(
    *, time: TaskTime, reason: str = "", by: Person, at: datetime
) -> None:
    """Let a time count no more, running or not; the row stays.

    Raises
    ------
    Refused
        When it was taken back already, is in the minutes of passes, or it is late and
        no reason is given.
    """
    current = _held(time)
    _refuse_taken_back(current)
    _refuse_in_passes(current)
    since = at if current.minutes is None else current.recorded_at
    given = checked_reason(reason, recorded_at=since, now=at)
    current.taken_back_at, current.taken_back_by = at, by
    current.taken_back_reason = given
    current.save()
    if current.minutes is None:
        return
    _note(current, by, at, f"{_words(current)}, taken back{because(given)}")


@transaction.atomic
def put_back_time(
    *, time: TaskTime, reason: str = "", by: Person, at: datetime
) -> None:
    """Let a time count again that was taken back by mistake.

    Raises
    ------
    Refused
        When it counts, another timer runs since, or it is late and no reason is given.
    """
    if time.person_id is not None:
        held(Person.objects).get(pk=time.person_id)
    current = _held(time)
    if current.taken_back_at is None:
        raise Refused("It counts already.")
    is_running = current.minutes is None
    if is_running:
        _refuse_second(current)
    given = checked_reason(reason, recorded_at=current.taken_back_at, now=at)
    current.taken_back_at = current.taken_back_by = None
    current.taken_back_reason = ""
    current.save()
    if not is_running:
        _note(current, by, at, f"{_words(current)}, put back{because(given)}")


def minutes_for_passes(
    *, passes: Sequence[Pass], minutes: int | None, by: Person | None, at: datetime
) -> dict[int, int | None]:
    """Return the minutes of each pass that a person records as painted, by its key.

    What their timer has of this work goes into them, each pass the same but for a
    minute; typed `minutes` are taken in its place. A timer that runs is stopped. Called
    inside the transaction that records the passes.
    """
    found = {one.pk: minutes for one in passes}
    if by is None:
        return found
    kinds: dict[str, list[Pass]] = defaultdict(list)
    for one in passes:
        kinds[pass_task(one.sheet.layer.technique)].append(one)
    piece = passes[0].sheet.layer.piece
    running = running_row(piece.studio, by.pk)
    is_of_these = (
        running is not None and running.piece_id == piece.pk and running.task in kinds
    )
    # What a phone sends late may have been done before the timer was started.
    began = running.started_at if running and is_of_these else None
    if running and began and began <= at and not as_running(running, at).is_forgotten:
        stop_timer(time=running, by=by, at=at)
    for task, those in kinds.items():
        times = waiting_for_passes(by, piece.pk, task)
        for time in times:
            time.passes.set(those)
        if times and minutes is None:
            each, over = divmod(sum(one.minutes or 0 for one in times), len(those))
            for number, one in enumerate(those):
                found[one.pk] = each + (number < over)
    return found


def _task(piece: Piece, key: str) -> Task:
    for one in tasks_of(piece.studio):
        if one.key == key:
            return one
    raise Refused("That task is no longer among the studio's. Choose another.")


def _held(time: TaskTime) -> TaskTime:
    found: TaskTime = (
        held(TaskTime.owned.for_studio(time.studio))
        .select_related("piece", "person", "studio")
        .get(pk=time.pk)
    )
    return found


def _ran(time: TaskTime, at: datetime) -> int:
    return minutes_between(time.started_at or at, at)


def _checked(minutes: int) -> int:
    if not 1 <= minutes <= MOST_MINUTES_AT_ONCE:
        raise Refused("Write a time from a minute to a day, for instance 45 min.")
    return minutes


def _refuse_future(piece: Piece, day: date, at: datetime) -> None:
    if day > local_day(piece.studio, at):
        raise Refused("That day is still to come.")


def _refuse_taken_back(time: TaskTime) -> None:
    if time.taken_back_at is not None:
        raise Refused("That time was taken back.")


def _refuse_running(time: TaskTime) -> None:
    if time.minutes is None:
        raise Refused("That timer still runs. Stop it first.")


def _refuse_second(time: TaskTime) -> None:
    if time.person_id is not None and running_row(time.studio, time.person_id):
        raise Refused("Another timer runs by now. Stop that one first.")


def _refuse_in_passes(time: TaskTime) -> None:
    if time.passes.filter(painted_at__isnull=False).exists():
        raise Refused(
            "Layers were recorded as painted with this time. Take that back first."
        )


def _viewer(time: TaskTime) -> Viewer:
    return Viewer.of_studio(time.studio)


def _words(time: TaskTime) -> str:
    """Say a time: "Dams: 45 min on Wed 4 Mar 2026 (Isla)"."""
    took = _viewer(time).labour(time.minutes or 0)
    who = f" ({time.person})" if time.person else ""
    note = f", “{time.note}”" if time.note else ""
    return f"{time.task_name}: {took} on {time.day:%a %-d %b %Y}{who}{note}"


def _note(time: TaskTime, by: Person, at: datetime, what: str) -> None:
    history.record(studio=time.studio, by=by, at=at, what=what, piece=time.piece)
