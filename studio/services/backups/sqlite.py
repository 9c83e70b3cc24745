"""SQLite's part of backing up: its own backup call, its own check, one rename."""

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from django.db import DatabaseError
from django.db.backends.base.base import BaseDatabaseWrapper

from studio.errors import Refused
from studio.outages import Outage, outage_of
from studio.services.backups.archive import BadBackup, fsync_folder

ENGINE = "sqlite"
WAIT_S = 20.0
COMPANY_WAIT_S = 2.0
NOT_DAMAGED = {
    Outage.FULL: "The backup cannot be written: the disk is full.",
    Outage.BUSY: "Another program holds the database. Try again in a minute.",
}
BESIDE = ("-wal", "-shm", "-journal")


def size_b(connection: BaseDatabaseWrapper) -> int:
    """Return about how many bytes a dump takes."""
    path = _path(connection)
    return sum(
        Path(f"{path}{end}").stat().st_size
        for end in ("", "-wal")
        if Path(f"{path}{end}").exists()
    )


def dump(connection: BaseDatabaseWrapper, target: Path) -> dict[str, int]:
    """Copy the database as it is at one instant, while others write; return its rows.

    In one step: a copy in several would start again whenever somebody writes.
    """
    try:
        with (
            connection.wrap_database_errors,
            closing(sqlite3.connect(_path(connection), timeout=WAIT_S)) as source,
            closing(sqlite3.connect(target)) as copy,
        ):
            # For a database that another holds `backup` would wait for ever.
            source.execute("BEGIN")
            source.execute("SELECT 1 FROM sqlite_master").fetchone()
            source.backup(copy)
            # One self-contained file, readable even on a read-only disk.
            copy.execute("PRAGMA journal_mode=DELETE")
            tables = _rows(target)
    except DatabaseError as problem:
        outage = outage_of(problem)
        if outage in NOT_DAMAGED:
            raise Refused(NOT_DAMAGED[outage]) from problem
        raise _damaged(problem) from problem
    check(target, tables)
    return tables


def check(dumped: Path, tables: dict[str, int]) -> None:
    """Refuse a dump that SQLite finds damaged or that has other rows than these."""
    try:
        with closing(sqlite3.connect(dumped)) as database:
            found = database.execute("PRAGMA integrity_check").fetchone()[0]
        rows = _rows(dumped)
    except sqlite3.DatabaseError as problem:
        raise _damaged(problem) from problem
    if found != "ok":
        raise BadBackup(f"The database in it is damaged: {found}")
    if rows != tables:
        raise BadBackup("The database in it has other rows than were counted.")


def load(connection: BaseDatabaseWrapper, dumped: Path) -> None:
    """Replace the database with a dump by one rename, so all of it or nothing."""
    connection.close()
    path = _path(connection)
    path.parent.mkdir(parents=True, exist_ok=True)
    staged = path.with_name(f".{path.name}.restoring")
    shutil.copyfile(dumped, staged)
    os.chmod(staged, path.stat().st_mode if path.exists() else 0o600)
    with staged.open("rb") as file:
        os.fsync(file.fileno())
    _fold(path)
    # What belongs to the old file would spoil the new one.
    for end in BESIDE:
        Path(f"{path}{end}").unlink(missing_ok=True)
    staged.replace(path)
    fsync_folder(path.parent)


def keep_as_it_is(connection: BaseDatabaseWrapper, folder: Path) -> None:
    """Copy the files of a database that is too damaged for a backup."""
    connection.close()
    folder.mkdir(mode=0o700)
    path = _path(connection)
    for end in ("", *BESIDE):
        if (source := Path(f"{path}{end}")).exists():
            shutil.copy2(source, folder / source.name)


def _fold(path: Path) -> None:
    """Move what was written last into the file, unless the file is beyond help.

    SQLite removes its write-ahead log only when nobody else has the file open, so this
    notices other programs too.
    """
    if not path.exists():
        return
    try:
        with closing(sqlite3.connect(path, timeout=COMPANY_WAIT_S)) as database:
            database.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.DatabaseError as problem:
        if "locked" in str(problem):
            raise Refused(
                "Another program has the database open. Stop it, then do this again."
            ) from problem


def _path(connection: BaseDatabaseWrapper) -> Path:
    return Path(connection.settings_dict["NAME"])


def _rows(path: Path) -> dict[str, int]:
    with closing(sqlite3.connect(path)) as database:
        names = database.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' "
            "AND name NOT LIKE 'sqlite!_%' ESCAPE '!' ORDER BY name"
        ).fetchall()
        return {
            name: database.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608 - its own table names
            for (name,) in names
        }


def _damaged(problem: Exception) -> BadBackup:
    return BadBackup(f"The database cannot be read: {problem}.")
