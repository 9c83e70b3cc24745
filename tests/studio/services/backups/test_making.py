"""Making backups: the daily one, the last seven, and what goes wrong."""

import errno
import fcntl
import os
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from studio import bootstrap
from studio.errors import Refused
from studio.selectors.backups import (
    BY_HAND,
    DAILY,
    SET_ASIDE,
    backups_in,
    last_failure,
    name_of,
    standing,
)
from studio.services.backups import making, postgres
from studio.services.backups.archive import check_archive
from studio.services.backups.making import (
    LOCK,
    make_backup,
    make_daily_backup,
    prune,
)

NOON = datetime(2026, 3, 4, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def folder(settings, tmp_path):
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.BACKUP_DIR.mkdir()
    return settings.BACKUP_DIR


@pytest.fixture
def quick(monkeypatch):
    """Write an empty file instead of a backup, or raise what a test puts here."""
    what = SimpleNamespace(problem=None)

    def make(*, at, folder, kind):
        if what.problem:
            raise what.problem
        path = folder / name_of(kind, at)
        path.touch()
        return path

    monkeypatch.setattr(making, "make_backup", make)
    return what


def names(folder):
    return [one.path.name for one in backups_in(folder)]


# --- Once a day -----------------------------------------------------------------------


def test_one_a_day_is_made_and_the_last_seven_are_kept(folder, quick):
    for day in range(10):
        for hours in (0, 3, 6):
            make_daily_backup(now=NOON + day * DAY + timedelta(hours=hours))
    assert names(folder) == [name_of(DAILY, NOON + day * DAY) for day in range(3, 10)]


def test_only_daily_ones_are_pruned(folder):
    others = [name_of(BY_HAND, NOON), name_of(SET_ASIDE, NOON), "daily-notes.zip"]
    for name in [*others, *(name_of(DAILY, NOON + day * DAY) for day in range(9))]:
        (folder / name).touch()
    prune(folder, kept=7)
    assert len(names(folder)) == 9
    assert all((folder / name).exists() for name in others)


def test_none_is_made_when_switched_off(folder, quick, settings):
    settings.BACKUPS_KEPT = 0
    assert make_daily_backup(now=NOON) is None
    assert names(folder) == []


def test_a_failure_is_told_tried_again_after_an_hour_and_forgotten(folder, quick):
    make_daily_backup(now=NOON - DAY)
    quick.problem = Refused("The disk is full.")
    assert make_daily_backup(now=NOON) is None
    assert last_failure(folder) == (NOON, "The disk is full.")
    quick.problem = None
    assert make_daily_backup(now=NOON + timedelta(minutes=59)) is None
    assert make_daily_backup(now=NOON + timedelta(minutes=60)) is not None
    assert last_failure(folder) is None
    assert len(names(folder)) == 2


def test_a_fault_of_the_program_is_noted_and_raised(folder, quick):
    quick.problem = ZeroDivisionError()
    with pytest.raises(ZeroDivisionError):
        make_daily_backup(now=NOON)
    assert "went wrong" in last_failure(folder)[1]


def test_a_folder_that_cannot_be_written_ends_with_words(settings, tmp_path, quick):
    (tmp_path / "file").touch()
    settings.BACKUP_DIR = tmp_path / "file"
    quick.problem = Refused("The backup cannot be written.")
    assert make_daily_backup(now=NOON) is None


def test_somebody_elses_backup_under_way_is_no_failure(folder, media_folder):
    media_folder.mkdir()
    with (media_folder / LOCK).open("a") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        assert make_daily_backup(now=NOON) is None
        with pytest.raises(Refused, match="right now"):
            make_backup(at=NOON, folder=folder)
    assert last_failure(folder) is None


def test_beat_asks_for_it(settings):
    from studio.celery import app

    asked = {entry["task"] for entry in settings.CELERY_BEAT_SCHEDULE.values()}
    assert "studio.tasks.make_daily_backup" in asked <= set(app.tasks)


# --- How it stands --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kept", "age", "since", "is_late"),
    [
        (7, 1.9, 9, False),
        (7, 2.1, 9, True),
        (0, 2.1, 9, False),
        (7, None, 1, False),
        (7, None, 3, True),
    ],
)
def test_standing_says_when_the_last_one_is_too_old(
    folder, settings, kept, age, since, is_late
):
    settings.BACKUPS_KEPT = kept
    (folder / name_of(SET_ASIDE, NOON)).touch()  # not one to count on
    if age is not None:
        (folder / name_of(DAILY, NOON - age * DAY)).touch()
    found = standing(now=NOON, since=NOON - since * DAY)
    assert found.is_late is is_late
    assert (found.last_at is None) == (age is None)


# --- Refused in words, and nothing left behind ----------------------------------------


@pytest.fixture
def refused(db, folder):
    """Return a function that fails to make one and gives the words."""

    def refuse():
        with pytest.raises(CommandError) as told:
            call_command("backup", to=folder)
        assert list(folder.iterdir()) == []
        return str(told.value)

    return refuse


def test_too_little_room_is_told_beforehand(refused, monkeypatch):
    monkeypatch.setattr(
        making.shutil, "disk_usage", lambda _: SimpleNamespace(free=1_000_000)
    )
    assert "The disk has 1 MB free" in refused()


def test_a_disk_that_fills_up_leaves_nothing(refused, monkeypatch):
    def fill(path, **_):
        path.write_bytes(b"half")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(making, "write_archive", fill)
    assert "the disk is full" in refused()


def test_a_backup_that_reads_otherwise_is_thrown_away(refused, monkeypatch):
    monkeypatch.setattr(making, "check_archive", lambda _: None)
    assert "does not read as it was written" in refused()


def test_a_missing_tool_of_postgresql_is_told_with_what_to_install(monkeypatch):
    monkeypatch.setattr(postgres.shutil, "which", lambda _: None)
    with pytest.raises(Refused, match=r"pg_dump is not on the PATH.*postgresql-client"):
        postgres.tool("pg_dump")


def test_passwords_go_by_the_environment():
    is_at = {
        "HOST": "db",
        "PORT": "",
        "USER": "who",
        "NAME": "what",
        "PASSWORD": "secret word",
        "OPTIONS": {"sslmode": "require"},
    }
    connection = SimpleNamespace(settings_dict=is_at)
    assert "secret word" not in " ".join(postgres._where(connection))
    environment = postgres._environment(connection)
    assert environment["PGPASSWORD"] == "secret word"
    assert environment["PGSSLMODE"] == "require"


# --- Killed in the middle -------------------------------------------------------------

STALLED = """
import os, sys, time
os.environ["DJANGO_SETTINGS_MODULE"] = "studio.settings"
import django
django.setup()
from studio.services.backups import making
def stall(path, **_):
    path.write_bytes(b"half of it")
    print("writing", flush=True)
    time.sleep(600)
making.write_archive = stall
from django.core.management import call_command
call_command("backup")
"""


@pytest.mark.slow
def test_a_killed_one_leaves_the_last_good_one(here):
    good = make_backup(at=NOON, folder=here.backups, using=here.alias)
    with subprocess.Popen(
        [sys.executable, "-c", STALLED],
        env=here.environment,
        cwd=bootstrap.ROOT,
        stdout=subprocess.PIPE,
    ) as process:
        assert process.stdout.readline() == b"writing\n"
        os.kill(process.pid, signal.SIGKILL)
    assert names(here.backups) == [good.name]
    assert list(here.backups.glob(".unfinished-*"))
    check_archive(good)
    second = make_backup(at=NOON + DAY, folder=here.backups, using=here.alias)
    assert names(here.backups) == [good.name, second.name]
    assert not list(here.backups.glob(".unfinished-*"))
    assert check_archive(second).files == check_archive(good).files
