"""Puts a backup back: everything is checked first, and the old data is set aside.

Files come before the database. Their names are random and never reused, so files
without records do no harm, and the database changes in one step. However this ends,
either the old state or the new one is complete.
"""

import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from studio.errors import Refused
from studio.migration_steps import TOO_OLD, is_half_way, known_steps
from studio.selectors.backups import SET_ASIDE, name_of
from studio.services.backups import sqlite
from studio.services.backups.archive import (
    DATABASE,
    BadBackup,
    Manifest,
    check_archive,
    extract,
    newer,
)
from studio.services.backups.making import (
    engine_of,
    make_backup,
    reason,
    refuse_without_room,
)
from studio.services.backups.media import media_files, put_back, remove_others

ENGINE_NAMES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
WORK_TABLES = ("studio_studio", "studio_person")


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What came back, and where the old data is now."""

    manifest: Manifest
    set_aside: Path | None


def restore(
    *,
    archive: Path,
    replace: bool,
    at: datetime,
    tell: Callable[[str], object],
    using: str = "default",
) -> Restored:
    """Replace what is there with the backup; refuse to unless `replace` says so.

    Raises
    ------
    StudioError
        In words; nothing of the old data was touched then.
    """
    connection = connections[using]
    engine = engine_of(connection)
    tell("Checking the backup.")
    manifest = check_archive(archive)
    _refuse_foreign(archive, manifest, connection)
    root = Path(settings.MEDIA_ROOT)
    is_taken = holds_data(connection) or bool(media_files(root))
    if is_taken and not replace:
        raise Refused(
            "There is data here already. With --replace it is set aside first and the "
            "backup takes its place."
        )
    try:
        Path(settings.VAR_DIR).mkdir(parents=True, exist_ok=True)
        # Beside the data, like the data itself: unpacked, and once more while staged.
        refuse_without_room(Path(settings.VAR_DIR), 3 * _size_b(archive))
        with tempfile.TemporaryDirectory(
            prefix=".restoring-", dir=settings.VAR_DIR
        ) as scratch:
            dumped = Path(scratch) / DATABASE
            extract(archive, DATABASE, dumped)
            engine.check(dumped, manifest.tables)
            aside = None
            if is_taken:
                tell("Setting aside what is here.")
                aside = set_aside(connection, at)
            tell("Putting the backup in its place.")
            root.mkdir(parents=True, exist_ok=True)
            put_back(archive, manifest.files, root)
            engine.load(connection, dumped)
    except OSError as problem:
        raise Refused(f"The disk does not play along: {reason(problem)}.") from problem
    if aside is None or aside.is_file():
        # The backup just made has them; a mere copy of the database does not.
        remove_others(manifest.files, root)
    return Restored(manifest=manifest, set_aside=aside)


def set_aside(connection: BaseDatabaseWrapper, at: datetime) -> Path:
    """Set aside what is there: as a backup, or as it is if SQLite finds it damaged."""
    folder = Path(settings.BACKUP_DIR)
    try:
        return make_backup(at=at, folder=folder, kind=SET_ASIDE, using=connection.alias)
    except BadBackup:
        if connection.vendor != sqlite.ENGINE:
            raise
    aside = folder / name_of(SET_ASIDE, at).removesuffix(".zip")
    sqlite.keep_as_it_is(connection, aside)
    return aside


def holds_data(connection: BaseDatabaseWrapper) -> bool:
    """Return whether the database holds anybody's work, or cannot be asked."""
    try:
        there = set(connection.introspection.table_names())
        with connection.cursor() as cursor:
            for table in there.intersection(WORK_TABLES):
                cursor.execute(f"SELECT 1 FROM {table} LIMIT 1")  # noqa: S608 - fixed names
                if cursor.fetchone():
                    return True
    except DatabaseError:
        if connection.vendor != sqlite.ENGINE:
            raise
        connection.close()
        return True
    return False


def _refuse_foreign(
    archive: Path, manifest: Manifest, connection: BaseDatabaseWrapper
) -> None:
    if manifest.engine != connection.vendor:
        theirs = ENGINE_NAMES.get(manifest.engine, "another database")
        raise BadBackup(
            f"{archive.name} is a backup of {theirs}, and this is "
            f"{ENGINE_NAMES[connection.vendor]}. Restore it where STUDIO_DATABASE_URL "
            "names such a database; manage.py move_database carries SQLite to "
            "PostgreSQL."
        )
    steps = {
        (app, name)
        for app, _, name in (one.partition(".") for one in manifest.migrations)
    }
    if not known_steps() >= steps:
        raise BadBackup(newer(archive.name))
    if is_half_way(steps):
        raise BadBackup(
            f"{archive.name} {TOO_OLD}, restore it there, and make a new backup."
        )


def _size_b(archive: Path) -> int:
    with zipfile.ZipFile(archive) as opened:
        return sum(part.file_size for part in opened.infolist())
