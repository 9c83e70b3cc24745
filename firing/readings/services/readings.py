"""Imports a controller's file of readings, whole or not at all, and removes it."""

import hashlib
import io
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import IO, Any
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
from firing.models import Firing, ReadingImport
from firing.readings.selectors.imports import left_out_words
from firing.readings.selectors.logs import answers_before
from firing.readings.services.bulk import write_readings
from firing.readings.services.judging import ask_for_judgement
from studio.errors import Refused
from studio.jobs import enqueue
from studio.models import Person
from studio.services import history
from studio.services.locks import held
from studio.viewer import Viewer

DRAWN_COLUMNS = 400
LINES_KEPT = 100
PIECE = 1 << 20
DELETE_JOB = "firing.delete_readings"
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


def import_readings(
    *,
    firing: Firing,
    data: bytes | IO[bytes],
    file_name: str,
    by: Person | None,
    at: datetime,
    unit: Unit | None = None,
    date_order: DateOrder | None = None,
    elapsed_unit: ElapsedUnit | None = None,
    temperature_column: str | None = None,
    leave_out: int = 0,
) -> ReadingImport:
    """Read a file and save every reading in it, in one transaction.

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
    answers = {
        "unit": unit,
        "date_order": date_order,
        "elapsed_unit": elapsed_unit,
        "temperature_column": temperature_column,
    }
    file = io.BytesIO(data) if isinstance(data, bytes) else data
    read = read_file(
        firing,
        file,
        sha256=hash_of(file),
        file_name=file_name,
        answers={k: v for k, v in answers.items() if v},
        leave_out=leave_out,
        at=at,
    )
    return save_file(read, by=by, at=at)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadFile:
    """A file that was read and is to be saved."""

    firing: Firing
    started_at: datetime
    """From when its times count."""
    log: ControllerLog
    answers: dict[str, Any]
    file_name: str
    sha256: str


def read_file(
    firing: Firing,
    file: IO[bytes],
    *,
    sha256: str,
    file_name: str,
    answers: dict[str, Any],
    leave_out: int,
    at: datetime,
) -> ReadFile:
    """Read a file outside any transaction; refusals are those of `import_readings`."""
    firing = Firing.across_studios.select_related("studio", "booking", "kiln").get(
        pk=firing.pk
    )
    started_at = refuse_file(firing, sha256)
    log = _read(firing, file, answers, at)
    _refuse_other_time(firing, started_at, log)
    if len(log.left_out) not in (0, leave_out):
        raise LinesLeftOut(log, started_at)
    return ReadFile(
        firing=firing,
        started_at=started_at,
        log=log,
        answers=answers,
        file_name=file_name,
        sha256=sha256,
    )


@transaction.atomic
def save_file(read: ReadFile, *, by: Person | None, at: datetime) -> ReadingImport:
    """Save a file that was read, in one transaction."""
    source = begin_import(read, by=by, at=at)
    write_readings(source, read.started_at, *read.log.readings, told=None)
    finish_import(source, read)
    return source


def hash_of(file: IO[bytes]) -> str:
    """Return the SHA-256 of a file."""
    file.seek(0)
    digest = hashlib.sha256()
    while piece := file.read(PIECE):
        digest.update(piece)
    return digest.hexdigest()


def refuse_file(firing: Firing, sha256: str) -> datetime:
    """Refuse a file that cannot be this firing's; return when the firing began."""
    if firing.started_at is None:
        raise Refused(
            "This firing was not started, so nothing can have been recorded. Start it "
            "first."
        )
    earlier = ReadingImport.with_unfinished.filter(firing=firing, sha256=sha256).first()
    if earlier is not None and earlier.is_whole:
        raise Refused(
            f"These readings are here already, from {earlier.file_name}. Remove that "
            "file first if you want to read it in another way."
        )
    if earlier is not None:
        raise Refused("This file is being read in. Look again in a minute.")
    return firing.started_at


def _read(
    firing: Firing, file: IO[bytes], answers: dict[str, Any], at: datetime
) -> ControllerLog:
    """Read a file with its sender's answers, or those about the logger's last files."""
    started_at = firing.started_at
    assert started_at is not None  # noqa: S101 - the caller has refused it
    points = np.array(firing.booking.planned_curve or [[0.0, 0.0]], dtype=np.float64)
    read = partial(
        read_log,
        file,
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


def begin_import(read: ReadFile, *, by: Person | None, at: datetime) -> ReadingImport:
    """Save a file without its readings, in a transaction; nobody sees it yet."""
    firing = _unchanged(read)
    refuse_file(firing, read.sha256)
    log, start = read.log, read.started_at.astimezone(UTC)
    times, heats = log.readings
    kept = thin_out(times, heats, columns=DRAWN_COLUMNS)
    first_s = float(times[0])
    read_as = {
        "columns": log.columns,
        "answers": read.answers,
        "left_out": log.left_out[:LINES_KEPT],
        "left_out_count": len(log.left_out),
        "is_cut_short": log.is_cut_short,
    }
    source: ReadingImport = ReadingImport.with_unfinished.create(
        studio=firing.studio,
        firing=firing,
        file_name=read.file_name[-200:],
        sha256=read.sha256,
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
        is_whole=False,
    )
    return source


def finish_import(source: ReadingImport, read: ReadFile) -> None:
    """Let everybody see a file's readings, in a transaction.

    Raises
    ------
    Refused
        When the firing's start was changed while they were written.
    """
    firing = _unchanged(read)
    source.is_whole = True
    source.save(update_fields=["is_whole"])
    history.record(
        studio=firing.studio,
        by=source.by,
        at=source.at,
        what=(
            f"Read {source.row_count} readings of “{firing.booking.title}” "
            f"from {source.file_name}"
        ),
        subject=f"firing {firing.pk}",
    )
    ask_for_judgement(firing=firing)


def _unchanged(read: ReadFile) -> Firing:
    """Return the firing as it is now, held; refuse if its start was changed."""
    current: Firing = (
        held(Firing.across_studios)
        .select_related("studio", "booking", "kiln")
        .get(pk=read.firing.pk)
    )
    if current.started_at != read.started_at:
        raise Refused(
            "The start of this firing was changed while its file was read. Import the "
            "file again."
        )
    return current


@transaction.atomic
def remove_import(*, source: ReadingImport, by: Person | None, at: datetime) -> None:
    """Remove a file's readings: nobody sees them from now on, and a worker deletes them."""
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
    discard(source)
    ask_for_judgement(firing=source.firing)


def discard(source: ReadingImport) -> None:
    """Hide a file's readings, in a transaction, and have a worker delete them."""
    source.is_whole = False
    # The same file may be imported again at once.
    source.sha256 = secrets.token_hex(32)
    source.save(update_fields=["is_whole", "sha256"])
    enqueue(studio=source.studio, name=DELETE_JOB, import_id=source.pk)
