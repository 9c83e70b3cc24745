"""What is in the folder of backups, and whether backups are up to date.

The folder is the truth, not a table: a backup that somebody removed is gone, and a
restored database would not know about later ones.
"""

import json
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Min

DAILY = "daily"
BY_HAND = "slowcool"
SET_ASIDE = "before-restore"
BEFORE_UPDATE = "before-update"
NAME = re.compile(
    rf"({DAILY}|{BY_HAND}|{SET_ASIDE}|{BEFORE_UPDATE})-(\d{{8}}T\d{{6}}Z)\.zip"
)
STAMP = "%Y%m%dT%H%M%SZ"
FAILED = "last-failure.json"
LATE_AFTER = timedelta(days=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """One backup: where it is, when it was made and at whose request."""

    path: Path
    kind: str
    made_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """The state of the backups, for the owner."""

    last_at: datetime | None
    kept: int
    is_late: bool
    failed_at: datetime | None
    failure: str


def name_of(kind: str, at: datetime) -> str:
    """Return the file name of a backup made at that instant."""
    return f"{kind}-{at.astimezone(UTC).strftime(STAMP)}.zip"


def backups_in(folder: Path) -> list[Backup]:
    """Return the backups in a folder, oldest first; other files are left out.

    A folder that cannot be read has none.
    """
    try:
        paths = list(folder.iterdir())
    except OSError:
        return []
    found = [
        Backup(
            path=path,
            kind=match[1],
            made_at=datetime.strptime(match[2], STAMP).replace(tzinfo=UTC),
        )
        for path in paths
        if (match := NAME.fullmatch(path.name))
    ]
    return sorted(found, key=lambda one: (one.made_at, one.path.name))


def last_failure(folder: Path) -> tuple[datetime, str] | None:
    """Return when and why the daily backup failed, unless one was made since."""
    try:
        told = json.loads((folder / FAILED).read_text(encoding="utf-8"))
        return datetime.fromisoformat(told["at"]), str(told["words"])
    except OSError:  # There is none, or the folder itself cannot be read.
        return None


def first_data_at() -> datetime:
    """Return when this database was made.

    Its studios may be older: imported ones and the demo bring their own past.
    """
    applied = MigrationRecorder.Migration.objects.aggregate(first=Min("applied"))
    made_at: datetime = applied["first"]
    return made_at


def standing(*, now: datetime, since: datetime) -> Standing:
    """Return the state of the backups; `since` is when there was first data to save."""
    folder = Path(settings.BACKUP_DIR)
    usable = [one.made_at for one in backups_in(folder) if one.kind != SET_ASIDE]
    last_at = usable[-1] if usable else None
    failed = last_failure(folder)
    return Standing(
        last_at=last_at,
        kept=settings.BACKUPS_KEPT,
        is_late=bool(settings.BACKUPS_KEPT) and now - (last_at or since) > LATE_AFTER,
        failed_at=failed and failed[0],
        failure=failed[1] if failed else "",
    )
