"""Takes in a controller's file: reads a short one at once, and has a worker read others.

Whatever stops a file is kept with it, so that its sender is asked once and sends it once.
"""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any

from django.db import transaction

from firing.controller_log import LogProblem, LogQuestions
from firing.models import Firing, ReadingImport, SentFile
from firing.readings.selectors.imports import unfinished_imports
from firing.readings.selectors.sent_files import READ_JOB, is_being_read, job_key
from firing.readings.services.bulk import delete_import, write_readings
from firing.readings.services.readings import (
    LinesLeftOut,
    ReadFile,
    begin_import,
    discard,
    finish_import,
    hash_of,
    read_file,
    refuse_file,
    save_file,
)
from studio.errors import Refused, StudioError
from studio.jobs import Finish, enqueue, on_forget
from studio.models import Person
from studio.services.left_files import KEPT_FOR
from studio.services.locks import held
from studio.whole_files import remove_after_commit, with_its_files

if TYPE_CHECKING:  # Django's class takes no type argument at run time.
    from django.core.files.uploadedfile import UploadedFile

# Some ten thousand readings, a tenth of a second.
READ_AT_ONCE_BYTES = 300_000
MOST_OPEN = 5


@with_its_files()
def keep_file(
    *, firing: Firing, upload: "UploadedFile[Any]", by: Person | None, at: datetime
) -> SentFile:
    """Keep a file that was sent for a firing, under a name of ours.

    The same file sent again is the one that is here.

    Raises
    ------
    Refused
        When it cannot be this firing's, or others of it wait.
    """
    current: Firing = held(Firing.across_studios).get(pk=firing.pk)
    sha256 = hash_of(upload)
    mine = SentFile.owned.for_studio(current.studio).filter(firing=current)
    if (kept := mine.filter(sha256=sha256).first()) is not None:
        if not is_being_read(kept):
            _begin_again(kept, {}, 0)
        return kept
    refuse_file(current, sha256)
    if mine.count() >= MOST_OPEN:
        raise Refused(
            f"{MOST_OPEN} files of this firing are not read in yet. See to one of them "
            "on the firing's page first."
        )
    upload.seek(0)
    made: SentFile = SentFile.across_studios.create(
        studio=current.studio,
        firing=current,
        file=upload,
        file_name=(upload.name or "readings")[-200:],
        sha256=sha256,
        at=at,
        by=by,
    )
    return made


def take_file(*, sent: SentFile, at: datetime) -> ReadingImport | None:
    """Read a short file now, and order a long one from the worker.

    Returns
    -------
    ReadingImport or None
        None while it is read, or when its sender must be asked something.

    Raises
    ------
    LogProblem, Refused
        When a short file cannot be this firing's readings: it is not kept then.
    """
    try:
        if sent.file.size > READ_AT_ONCE_BYTES:
            _order(sent)
            return None
        read = _read(sent, at)
    except FileNotFoundError as problem:
        raise Refused(f"{sent} was read in or taken away meanwhile.") from problem
    except (LogQuestions, LinesLeftOut) as doubt:
        _tell(sent, doubt)
        return None
    except StudioError:
        drop_file(sent=sent)
        raise
    with transaction.atomic():
        source = save_file(read, by=sent.by, at=at)
        drop_file(sent=sent)
    return source


def answer_file(
    *, sent: SentFile, answers: dict[str, Any], leave_out: int, at: datetime
) -> ReadingImport | None:
    """Read a file as its sender now says; see `take_file`."""
    return take_file(sent=_answered(sent, answers, leave_out), at=at)


@transaction.atomic
def _answered(sent: SentFile, answers: dict[str, Any], leave_out: int) -> SentFile:
    current = _hold(sent)
    if current is None:
        raise Refused(f"{sent} was read in or taken away meanwhile.")
    if is_being_read(current):
        raise Refused(f"{sent} is being read already. Look again in a minute.")
    _begin_again(current, current.answers | answers, leave_out)
    return current


def _begin_again(sent: SentFile, answers: dict[str, Any], leave_out: int) -> None:
    sent.answers, sent.leave_out, sent.told = answers, leave_out, {}
    sent.save(update_fields=["answers", "leave_out", "told"])


def bring_in(
    *, sent: SentFile, told: Callable[[str], None], at: datetime
) -> Finish | None:
    """Read a long file in the worker; return what lets everybody see its readings.

    It may be called again for a file that was partly brought in, and while a worker that
    lost its lease is still at it: the last one counts.
    """
    told("Reading the file")
    try:
        with transaction.atomic():
            if _alone(sent) is None:
                return None
        read = _read(sent, at)
        with transaction.atomic():
            if (current := _alone(sent)) is None:
                return None
            source = begin_import(read, by=sent.by, at=at)
            current.source = source
            current.save(update_fields=["source"])
    except StudioError as problem:
        return partial(_tell, sent, problem)
    write_readings(source, read.started_at, *read.log.readings, told=told)

    def finish() -> None:
        current = _hold(sent)
        if current is None or current.source != source:
            # Taken away or overtaken while it was read: nobody wants these readings.
            discard(source)
            return
        finish_import(source, read)
        drop_file(sent=sent)

    return finish


def _hold(sent: SentFile) -> SentFile | None:
    """Hold a file, after its firing; none if it was read in or taken away."""
    held(Firing.across_studios).get(pk=sent.firing_id)
    current: SentFile | None = held(SentFile.across_studios).filter(pk=sent.pk).first()
    return current


def _alone(sent: SentFile) -> SentFile | None:
    """Hold a file, and hide what an earlier worker brought in of it."""
    current = _hold(sent)
    if current is not None and current.source is not None:
        discard(current.source)
        current.source = None
        current.save(update_fields=["source"])
    return current


@transaction.atomic
def take_away(*, sent: SentFile) -> bool:
    """Remove a file and what is in of it; return False if it was read in meanwhile."""
    current = _hold(sent)
    if current is None:
        return False
    # A worker that is at it deletes what it wrote.
    if current.source is not None and not is_being_read(current):
        discard(current.source)
    drop_file(sent=current)
    return True


@transaction.atomic
def drop_file(*, sent: SentFile) -> None:
    """Remove a file that was sent; what was read from it stays."""
    remove_after_commit(str(sent.file))
    sent.delete()


@on_forget
def forget_sent(now: datetime) -> int:
    """Remove files that were sent a week ago and never read in; return how many."""
    old = list(SentFile.across_studios.filter(at__lt=now - KEPT_FOR))
    for sent in old:
        drop_file(sent=sent)
    return len(old)


@on_forget
def forget_unfinished(now: datetime) -> int:
    """Delete readings that nobody sees and no worker brings in; return how many files."""
    coming = SentFile.across_studios.filter(source__isnull=False).values("source")
    old = unfinished_imports().filter(at__lt=now - KEPT_FOR).exclude(pk__in=coming)
    left = list(old)
    for source in left:
        delete_import(source)
    return len(left)


def _read(sent: SentFile, at: datetime) -> ReadFile:
    with sent.file.open("rb") as file:
        return read_file(
            sent.firing,
            file,
            sha256=sent.sha256,
            file_name=sent.file_name,
            answers=sent.answers,
            leave_out=sent.leave_out,
            at=at,
        )


def _order(sent: SentFile) -> None:
    enqueue(studio=sent.studio, name=READ_JOB, key=job_key(sent.pk), sent_id=sent.pk)


def _tell(sent: SentFile, problem: StudioError) -> None:
    """Keep with a file what stopped it."""
    told: dict[str, Any] = {"problem": str(problem)}
    if isinstance(problem, LogQuestions):
        told["questions"] = [list(one) for one in problem.questions]
    elif isinstance(problem, LogProblem):
        told |= {"lines": problem.problems, "count": problem.count}
    if isinstance(problem, LinesLeftOut):
        told["left"] = {
            "reading_count": problem.reading_count,
            "first_at": problem.first_at.isoformat(),
            "last_at": problem.last_at.isoformat(),
            "highest_c": problem.highest_c,
        }
    SentFile.across_studios.filter(pk=sent.pk).update(told=told)
