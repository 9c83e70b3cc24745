"""What restoring refuses, and what it does with a database beyond help."""

import contextlib
import resource
import sqlite3
from datetime import UTC, datetime

import pytest
from django.core.management.base import CommandError
from django.db import connections

from studio.errors import Refused
from studio.management.commands import restore as command
from studio.management.commands.up import take_lock
from studio.services.backups import postgres, sqlite
from studio.services.backups.archive import BadBackup, write_archive
from studio.services.backups.making import make_backup
from studio.services.backups.restoring import restore
from tests.studio.services.backups.worlds import copy_of, world

AT = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


@pytest.fixture
def on_sqlite(demo, tmp_path, settings, django_db_blocker):
    copy_of(demo, tmp_path / "on-sqlite")
    with django_db_blocker.unblock(), world(tmp_path / "on-sqlite") as made:
        made.settle(settings)
        yield made


def put_back(archive, where):
    return restore(archive=archive, replace=True, at=AT, tell=str, using=where.alias)


def test_a_damaged_database_is_kept_as_it_is_and_replaced(on_sqlite):
    before = on_sqlite.everything()
    good = make_backup(at=AT, folder=on_sqlite.backups, using=on_sqlite.alias)
    path = on_sqlite.var / "slowcool.sqlite3"
    broken = b"no database" + path.read_bytes()[11:]
    path.write_bytes(broken)
    done = put_back(good, on_sqlite)
    assert (done.set_aside / path.name).read_bytes() == broken
    assert on_sqlite.everything() == before


@contextlib.contextmanager
def no_room(path):
    """Let no file grow to the size of a database."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@contextlib.contextmanager
def held(path):
    """Hold a database as a program does that lets nobody else in."""
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode=EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        yield


@pytest.mark.parametrize(
    ("trouble", "words"), [(no_room, "the disk is full"), (held, "Another program")]
)
def test_a_full_disk_or_a_held_database_is_not_told_as_damage(
    on_sqlite, monkeypatch, trouble, words
):
    connection = connections[on_sqlite.alias]
    connection.close()
    monkeypatch.setattr(sqlite, "WAIT_S", 0.1)
    copy = on_sqlite.var / "copy"
    with (
        trouble(on_sqlite.var / "slowcool.sqlite3"),
        pytest.raises(Refused, match=words),
    ):
        sqlite.dump(connection, copy)


def test_a_backup_of_the_other_database_is_refused(on_sqlite, tmp_path):
    before = on_sqlite.everything()
    (tmp_path / "db").write_bytes(b"PGDMP")
    write_archive(
        tmp_path / "theirs.zip",
        engine=postgres.ENGINE,
        made_at=AT.isoformat(),
        migrations=[],
        tables={},
        database=tmp_path / "db",
        files={},
    )
    with pytest.raises(BadBackup, match=r"of PostgreSQL, and this is SQLite"):
        put_back(tmp_path / "theirs.zip", on_sqlite)
    assert on_sqlite.everything() == before
    assert not on_sqlite.backups.exists()


def test_other_rows_than_were_counted_are_refused(on_sqlite, tmp_path):
    write_archive(
        tmp_path / "odd.zip",
        engine="sqlite",
        made_at=AT.isoformat(),
        migrations=[],
        tables={"studio_studio": 99},
        database=on_sqlite.var / "slowcool.sqlite3",
        files={},
    )
    with pytest.raises(BadBackup, match="other rows than were counted"):
        put_back(tmp_path / "odd.zip", on_sqlite)
    assert not on_sqlite.backups.exists()


def test_nothing_is_restored_under_a_running_program(settings, tmp_path):
    settings.VAR_DIR = tmp_path
    with (tmp_path / "up.lock").open("a+") as lock:
        take_lock(lock)
        with pytest.raises(CommandError, match="already runs"):
            command.Command().handle(archive=tmp_path / "any.zip", replace=True)


def test_the_command_says_that_nothing_was_restored(settings, tmp_path):
    settings.VAR_DIR = tmp_path
    with pytest.raises(CommandError, match=r"no file .*Nothing was restored"):
        command.Command().handle(archive=tmp_path / "none.zip", replace=True)
