"""Databases beside the test run's own: the demo on SQLite and on PostgreSQL."""

import contextlib
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import dj_database_url
import psycopg
from django.db import connections

from studio import bootstrap
from studio.services.backups.archive import sha256_of
from studio.services.backups.media import media_files
from studio.services.backups.tables import fingerprints
from tests.patience import LONG_S


@dataclass(frozen=True, kw_only=True)
class World:
    """One installation: its data folder, its database and the alias that reads it."""

    var: Path
    url: str
    alias: str

    @property
    def environment(self) -> dict[str, str]:
        return environment(self.var, self.url)

    @property
    def is_sqlite(self) -> bool:
        return self.url.startswith("sqlite")

    @property
    def media(self) -> Path:
        return self.var / "media"

    @property
    def backups(self) -> Path:
        return self.var / "backups"

    def settle(self, settings) -> None:
        """Let the program's own code in this process work on this installation."""
        settings.VAR_DIR = self.var
        settings.MEDIA_ROOT = self.media
        settings.BACKUP_DIR = self.backups

    def manage(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, str(bootstrap.ROOT / "manage.py"), *arguments],
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=5 * LONG_S,  # the demo takes its time
            check=False,
        )

    def everything(self) -> tuple[dict, dict]:
        """Return the hash of every table and of every file."""
        files = {name: sha256_of(p) for name, p in media_files(self.media).items()}
        found = fingerprints(using=self.alias)
        connections[self.alias].close()
        return found, files

    def execute(self, statement: str, *parameters):
        """Run one statement, committed, by a connection that is closed again."""
        with connections[self.alias].cursor() as cursor:
            cursor.execute(statement, parameters)
            found = cursor.fetchall() if cursor.description else []
        connections[self.alias].close()
        return found


def environment(var: Path, url: str) -> dict[str, str]:
    plain = {k: v for k, v in os.environ.items() if not k.startswith("STUDIO_")}
    plain.pop("DJANGO_SETTINGS_MODULE", None)
    return plain | {
        "STUDIO_NO_BOOTSTRAP": "1",
        "STUDIO_VAR_DIR": str(var),
        "STUDIO_DATABASE_URL": url,
    }


@contextlib.contextmanager
def world(var: Path, url: str = ""):
    """Make an installation known to this process for a while."""
    var.mkdir(parents=True, exist_ok=True)
    url = url or f"sqlite:///{var}/slowcool.sqlite3"
    alias = f"world_{var.name.replace('-', '_')}"
    connections.databases[alias] = connections.configure_settings(
        {"default": {}, alias: dict(dj_database_url.parse(url))}
    )[alias]
    try:
        yield World(var=var, url=url, alias=alias)
    finally:
        connections[alias].close()
        del connections[alias]
        del connections.databases[alias]


def unread_world(var: Path) -> World:
    """Return an installation on SQLite that this process does not know as a database."""
    return World(var=var, url=f"sqlite:///{var}/slowcool.sqlite3", alias="")


def copy_of(demo: World, var: Path) -> None:
    """Copy a SQLite installation that nobody uses."""
    shutil.copytree(demo.var, var)


def triggers_and_constraints(url: str) -> set[tuple[str, ...]]:
    """Return what PostgreSQL enforces in a database, in its own words.

    Casts are left out: it writes those of a list otherwise once it was restored.
    """
    with psycopg.connect(url) as connection:
        constraints = connection.execute(
            "SELECT conrelid::regclass::text, conname, pg_get_constraintdef(oid) "
            "FROM pg_constraint WHERE connamespace = 'public'::regnamespace"
        )
        found = {
            (table, name, re.sub(r"::[a-z ]+(\[\])?|[()]", "", words))
            for table, name, words in constraints
        }
        triggers = connection.execute(
            "SELECT tgrelid::regclass::text, tgname, pg_get_triggerdef(oid) "
            "FROM pg_trigger WHERE NOT tgisinternal"
        )
        return found | set(triggers.fetchall())
