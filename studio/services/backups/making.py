"""Makes backups while people work: by hand, once a day, and before a restore.

A backup gets its name only after it was read back and found correct, so a file with a
backup's name is a good one, however the program ended.
"""

import errno
import fcntl
import json
import logging
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import ModuleType

from django.conf import settings
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.recorder import MigrationRecorder

from studio.errors import Refused, StudioError
from studio.selectors.backups import (
    BY_HAND,
    DAILY,
    FAILED,
    backups_in,
    last_failure,
    name_of,
)
from studio.services.backups import postgres, sqlite
from studio.services.backups.archive import (
    check_archive,
    fsync_folder,
    write_archive,
)
from studio.services.backups.media import held_media

log = logging.getLogger(__name__)

UNFINISHED = ".unfinished-"
# Beside the files: everybody who shares them shares it, wherever backups go.
LOCK = ".backup-lock"
TRY_AGAIN_AFTER = timedelta(hours=1)
SPARE_B = 10 * 1024 * 1024


class Busy(Refused):
    """Somebody else is making a backup in this folder."""


def make_backup(
    *, at: datetime, folder: Path, kind: str = BY_HAND, using: str = "default"
) -> Path:
    """Write a backup of the database and the files, check it, and name it.

    Raises
    ------
    StudioError
        Saying why there is none; whatever was there before is still there.
    """
    connection = connections[using]
    try:
        with (
            only_one(folder),
            tempfile.TemporaryDirectory(prefix=UNFINISHED, dir=folder) as scratch,
        ):
            return _make(connection, Path(scratch), folder / name_of(kind, at), at)
    except OSError as problem:
        raise Refused(f"The backup cannot be written: {reason(problem)}.") from problem


def _make(
    connection: BaseDatabaseWrapper, scratch: Path, target: Path, at: datetime
) -> Path:
    if target.exists():
        raise Refused(f"There is a backup called {target.name} already.")
    engine = engine_of(connection)
    root = Path(settings.MEDIA_ROOT)
    draft = scratch / target.name
    with held_media(root) as held:
        refuse_without_room(
            target.parent,
            # The copy of the database stays beside the archive until the archive is
            # written.
            2 * engine.size_b(connection) + _bytes_of(held.files()),
        )
        tables = engine.dump(connection, scratch / "database")
        held.hold()
        written = write_archive(
            draft,
            engine=engine.ENGINE,
            made_at=at.astimezone(UTC).isoformat(),
            migrations=migrations_in(connection),
            tables=tables,
            database=scratch / "database",
            files=held.files(),
        )
    if check_archive(draft) != written:
        raise Refused("The backup does not read as it was written.")
    draft.replace(target)
    fsync_folder(target.parent)
    return target


def make_daily_backup(*, now: datetime) -> Path | None:
    """Make today's backup if it is due, and keep only the last few daily ones.

    A failure is noted for the owner, and the backup is tried again after an hour.
    """
    folder, kept = Path(settings.BACKUP_DIR), settings.BACKUPS_KEPT
    if not kept or not _is_due(folder, now):
        return None
    try:
        made = make_backup(at=now, folder=folder, kind=DAILY)
    except Busy:
        return None
    except StudioError as problem:
        log.error("The daily backup failed: %s", problem)
        _note_failure(folder, now, str(problem))
        return None
    except Exception:
        _note_failure(folder, now, "Something in the program went wrong; see its log.")
        raise
    (folder / FAILED).unlink(missing_ok=True)
    prune(folder, kept=kept)
    return made


def prune(folder: Path, *, kept: int) -> None:
    """Remove the oldest daily backups; those made by hand are never removed."""
    daily = [one for one in backups_in(folder) if one.kind == DAILY]
    for one in daily[:-kept]:
        one.path.unlink()


@contextmanager
def only_one(folder: Path) -> Iterator[None]:
    """Be the only one backing up this data, and clear away what a killed one left."""
    root = Path(settings.MEDIA_ROOT)
    root.mkdir(parents=True, exist_ok=True)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    with (root / LOCK).open("a") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Busy(
                "A backup is being made right now. Try again in a minute."
            ) from None
        for left in folder.glob(f"{UNFINISHED}*"):
            shutil.rmtree(left, ignore_errors=True)
        yield


def engine_of(connection: BaseDatabaseWrapper) -> ModuleType:
    """Return the module for this kind of database."""
    return {one.ENGINE: one for one in (sqlite, postgres)}[connection.vendor]


def migrations_in(connection: BaseDatabaseWrapper) -> list[str]:
    """Return the names of the migrations applied to the database."""
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted(f"{app}.{name}" for app, name in applied)


def refuse_without_room(folder: Path, needed_b: int) -> None:
    """Refuse beforehand if the disk has no room."""
    free_b = shutil.disk_usage(folder).free
    if free_b < needed_b + SPARE_B:
        raise Refused(
            f"The disk has {free_b / 1e6:,.0f} MB free and this may need "
            f"{(needed_b + SPARE_B) / 1e6:,.0f} MB. Make room, then do it again."
        )


def reason(problem: OSError) -> str:
    """Return the system's text for the reason."""
    if problem.errno == errno.ENOSPC:
        return "the disk is full"
    return problem.strerror or str(problem)


def _is_due(folder: Path, now: datetime) -> bool:
    today = now.astimezone(UTC).date()
    if any(
        one.kind == DAILY and one.made_at.date() == today for one in backups_in(folder)
    ):
        return False
    failed = last_failure(folder)
    return failed is None or now - failed[0] >= TRY_AGAIN_AFTER


def _note_failure(folder: Path, now: datetime, words: str) -> None:
    told = json.dumps({"at": now.isoformat(), "words": words})
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        draft = folder / f".{FAILED}"
        draft.write_text(told, encoding="utf-8")
        draft.replace(folder / FAILED)
    except OSError as problem:
        # Then the owner is told by the age of the last one.
        log.error("That could not be written down: %s", reason(problem))


def _bytes_of(files: dict[str, Path]) -> int:
    return sum(path.stat().st_size for path in files.values())
