"""Imports a controller's file of readings, whole or not at all, and removes it."""

import hashlib
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import islice
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from django.db import transaction

from firing.controller_log import (
    ControllerLog,
    DateOrder,
    ElapsedUnit,
    LogProblem,
    LogQuestions,
    Readings,
    Unit,
    read_log,
)
from firing.drawings.curves import thin_out
from firing.models import Firing, Reading, ReadingImport
from firing.readings.selectors.imports import left_out_words
from firing.readings.selectors.logs import answers_before
from firing.readings.services.judging import ask_for_judgement
from studio.errors import Refused
from studio.models import Person
from studio.services import history
from studio.services.locks import held
from studio.viewer import Viewer

BATCH = 5000
DRAWN_COLUMNS = 400
LINES_KEPT = 100
# What a logger's files are read by again without asking. Its scale and its unit of time
# may be set differently meanwhile, so those answers are only proposed.
TAKEN_AGAIN = ("date_order", "temperature_column")


class LinesLeftOut(LogProblem):
    """A file that can be read if its bad lines are left out, and what is left."""

    def __init__(self, log: ControllerLog, started_at: datetime) -> None:
        lines = "1 line" if len(log.left_out) == 1 else f"{len(log.left_out)} lines"
        super().__init__(f"{lines} cannot be read.", log.left_out)
        times, heats = log.readings
        self.reading_count = len(times)
        self.first_at = started_at + timedelta(seconds=float(times[0]))
        self.last_at = started_at + timedelta(seconds=float(times[-1]))
        self.highest_c = float(np.max(heats))


@transaction.atomic
def import_readings(
    *,
    firing: Firing,
    data: bytes,
    file_name: str,
    by: Person | None,
    at: datetime,
    unit: Unit | None = None,
    date_order: DateOrder | None = None,
    elapsed_unit: ElapsedUnit | None = None,
    temperature_column: str | None = None,
    leave_out: int = 0,
) -> ReadingImport:
    """Read a file and save every reading in it.

    `leave_out` is how many bad lines its sender was shown and left out.

    Raises
    ------
    LogQuestions
        When the file does not say something and the kiln's earlier files do not either.
    LinesLeftOut
        When it has bad lines, and nobody agreed to leave out as many.
    LogProblem
        When it cannot be read; nothing is kept then.
    Refused
        When the firing was not started, the file was taken in before, or its readings
        are of another time.
    """
    current: Firing = (
        held(Firing.across_studios)
        .select_related("studio", "booking", "kiln")
        .get(pk=firing.pk)
    )
    if current.started_at is None:
        raise Refused(
            "This firing was not started, so nothing can have been recorded. Start it "
            "first."
        )
    sha256 = hashlib.sha256(data).hexdigest()
    earlier = current.imports.filter(sha256=sha256).first()
    if earlier is not None:
        raise Refused(
            f"These readings are here already, from {earlier.file_name}. Remove that "
            "file first if you want to read it in another way."
        )
    answers = {
        "unit": unit,
        "date_order": date_order,
        "elapsed_unit": elapsed_unit,
        "temperature_column": temperature_column,
    }
    log = _read(current, data, {k: v for k, v in answers.items() if v}, at)
    _refuse_other_time(current, current.started_at, log)
    if len(log.left_out) not in (0, leave_out):
        raise LinesLeftOut(log, current.started_at)
    source = _store(
        current,
        current.started_at,
        log,
        answers={k: v for k, v in answers.items() if v},
        file_name=file_name,
        sha256=sha256,
        by=by,
        at=at,
    )
    history.record(
        studio=current.studio,
        by=by,
        at=at,
        what=(
            f"Read {source.row_count} readings of “{current.booking.title}” "
            f"from {source.file_name}"
        ),
        subject=f"firing {current.pk}",
    )
    ask_for_judgement(firing=current)
    return source


def _read(
    firing: Firing, data: bytes, answers: dict[str, Any], at: datetime
) -> ControllerLog:
    """Read a file with its sender's answers, or those about the logger's last files."""
    started_at = firing.started_at
    assert started_at is not None  # noqa: S101 - the caller has refused it
    points = np.array(firing.booking.planned_curve or [[0.0, 0.0]], dtype=np.float64)
    read = partial(
        read_log,
        data,
        started_at=started_at,
        zone=ZoneInfo(firing.studio.time_zone),
        lasted_s=((firing.finished_at or at) - started_at).total_seconds(),
        planned=Readings(*points.T) if firing.booking.planned_curve else None,
    )
    try:
        return read(**answers)
    except LogQuestions as asked:
        before = answers_before(firing, asked.columns)
        known = {name: before[name] for name in TAKEN_AGAIN if name in before}
        try:
            return read(**(known | answers))
        except LogQuestions as left:
            questions = [
                one._replace(likely=before.get(one.name) or one.likely)
                for one in left.questions
            ]
            raise LogQuestions(questions, left.columns) from left


def _refuse_other_time(
    firing: Firing, started_at: datetime, log: ControllerLog
) -> None:
    """Refuse a file whose readings are all outside the time of the firing."""
    times = log.readings.time_s
    slack_s = 12 * 3600.0
    end = firing.finished_at or max(firing.booking.ends_at, firing.booking.opens_at)
    lasted_s = (end - started_at).total_seconds()
    if times[-1] < -slack_s or times[0] > lasted_s + slack_s:
        first = started_at + timedelta(seconds=float(times[0]))
        viewer = Viewer.of_studio(firing.studio)
        raise Refused(
            f"These readings begin on {viewer.day(first)}, and this firing was started "
            f"on {viewer.day(started_at)}. Give the file of this firing, or open "
            "the firing that it belongs to."
        )


def _store(
    firing: Firing,
    started_at: datetime,
    log: ControllerLog,
    *,
    answers: dict[str, Any],
    file_name: str,
    sha256: str,
    by: Person | None,
    at: datetime,
) -> ReadingImport:
    times, heats = log.readings
    kept = thin_out(times, heats, columns=DRAWN_COLUMNS)
    start = started_at.astimezone(UTC)
    first_s = float(times[0])
    read_as = {
        "columns": log.columns,
        "answers": answers,
        "left_out": log.left_out[:LINES_KEPT],
        "left_out_count": len(log.left_out),
        "is_cut_short": log.is_cut_short,
    }
    source: ReadingImport = ReadingImport.across_studios.create(
        studio=firing.studio,
        firing=firing,
        file_name=file_name[-200:],
        sha256=sha256,
        row_count=len(times),
        first_at=start + timedelta(seconds=first_s),
        last_at=start + timedelta(seconds=float(times[-1])),
        highest_c=float(np.max(heats)),
        thin_curve=[
            [round(float(t) - first_s, 1), round(float(c), 2)]
            for t, c in zip(times[kept], heats[kept], strict=True)
        ],
        description=f"{log.description} {left_out_words(read_as)}".strip()[:300],
        read_as=read_as,
        at=at,
        by=by,
    )
    pairs = zip(times.tolist(), heats.tolist(), strict=True)
    while batch := list(islice(pairs, BATCH)):
        Reading.across_studios.bulk_create(
            Reading(
                studio_id=firing.studio_id,
                firing_id=firing.pk,
                source_id=source.pk,
                at=start + timedelta(seconds=time_s),
                temperature_c=celsius,
            )
            for time_s, celsius in batch
        )
    return source


@transaction.atomic
def remove_import(*, source: ReadingImport, by: Person | None, at: datetime) -> None:
    """Remove a file's readings."""
    history.record(
        studio=source.studio,
        by=by,
        at=at,
        what=(
            f"Removed {source.row_count} readings of “{source.firing.booking.title}” "
            f"that came from {source.file_name}"
        ),
        subject=f"firing {source.firing_id}",
    )
    source.delete()
    ask_for_judgement(firing=source.firing)
