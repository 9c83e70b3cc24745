"""A backup made while people work, and what comes back from it, on both databases."""

import contextlib
import sqlite3
import threading
from datetime import UTC, datetime
from pathlib import Path

import psycopg
import pytest
from django.core.management import call_command
from django.db import IntegrityError, connections, transaction

from studio.errors import StudioError
from studio.services.backups.archive import BadBackup, check_archive
from studio.services.backups.making import LOCK, make_backup
from studio.services.backups.restoring import restore
from tests.studio.services.backups.worlds import triggers_and_constraints
from tests.worker import wait_until

AT = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)
LATER = datetime(2026, 3, 5, 9, 0, tzinfo=UTC)

pytestmark = pytest.mark.slow


def back_up(where, at=AT) -> Path:
    return make_backup(at=at, folder=where.backups, using=where.alias)


def put_back(archive, where, *, replace=False, at=LATER):
    return restore(archive=archive, replace=replace, at=at, tell=str, using=where.alias)


def test_everything_comes_back_somewhere_else(here, elsewhere, settings):
    before = here.everything()
    assert len(before[1]) > 20
    assert sum(table.rows for table in before[0].values()) > 5000
    archive = back_up(here)
    assert here.everything() == before
    assert archive.stat().st_mode & 0o077 == 0
    elsewhere.settle(settings)
    done = put_back(archive, elsewhere)
    assert done.set_aside is None
    assert elsewhere.everything() == before
    if not here.is_sqlite:
        theirs = triggers_and_constraints(here.url)
        assert any("EXCLUDE" in words for _, _, words in theirs)
        assert triggers_and_constraints(elsewhere.url) == theirs
    # New rows get numbers of their own, and a kiln is still not booked twice.
    call_command("migrate", database=elsewhere.alias, interactive=False, verbosity=0)
    insert = (
        "INSERT INTO firing_booking ({0}) SELECT {0} FROM firing_booking "
        "WHERE cancelled_at IS NULL LIMIT 1"
    )
    with connections[elsewhere.alias].cursor() as cursor:
        columns = [
            column.name
            for column in connections[
                elsewhere.alias
            ].introspection.get_table_description(cursor, "firing_booking")
            if column.name != "id"
        ]
    with pytest.raises(IntegrityError), transaction.atomic(using=elsewhere.alias):
        elsewhere.execute(insert.format(", ".join(columns)))


def test_a_writer_goes_on_and_the_backup_is_of_one_instant(here, elsewhere, settings):
    """Each step writes to two tables at once: the backup has both or neither."""
    here.execute("CREATE TABLE left_hand (n integer)")
    here.execute("CREATE TABLE right_hand (n integer)")
    enough, written = threading.Event(), []

    def write():
        connection = connections[here.alias]
        while not enough.is_set():
            with transaction.atomic(using=here.alias), connection.cursor() as cursor:
                cursor.execute("INSERT INTO left_hand VALUES (1)")
                cursor.execute("INSERT INTO right_hand VALUES (1)")
            written.append(1)
        connection.close()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        wait_until(lambda: len(written) >= 3)
        archive = back_up(here)
        at_the_end = len(written)
        wait_until(lambda: len(written) > at_the_end)
    finally:
        enough.set()
        writer.join()
    tables = check_archive(archive).tables
    assert 3 <= tables["left_hand"] == tables["right_hand"] < len(written)
    elsewhere.settle(settings)
    put_back(archive, elsewhere)
    assert elsewhere.execute("SELECT count(*) FROM right_hand") == [
        (tables["right_hand"],)
    ]


def test_a_picture_removed_meanwhile_is_in_the_backup(here, monkeypatch):
    from studio.services.backups import postgres, sqlite

    removed = sorted(path for path in here.media.rglob("*.webp"))[0]
    engine = sqlite if here.is_sqlite else postgres
    dump = engine.dump

    def dump_and_remove(*arguments):
        tables = dump(*arguments)
        removed.unlink()
        return tables

    monkeypatch.setattr(engine, "dump", dump_and_remove)
    files = check_archive(back_up(here)).files
    assert removed.relative_to(here.media).as_posix() in files
    assert [path.name for path in here.media.glob(".*")] == [LOCK]


def test_data_that_is_here_is_replaced_only_when_told_and_then_kept(here):
    first = here.everything()
    archive = back_up(here)
    here.execute("UPDATE studio_studio SET name = 'Changed since'")
    (here.media / "pictures" / "new.webp").write_bytes(b"new")
    second = here.everything()
    with pytest.raises(StudioError, match="--replace"):
        put_back(archive, here)
    assert here.everything() == second
    done = put_back(archive, here, replace=True)
    assert here.everything() == first
    assert put_back(done.set_aside, here, replace=True, at=AT).set_aside
    assert here.everything() == second


def test_what_is_not_whole_changes_nothing(here, monkeypatch):
    archive = back_up(here)
    here.execute("UPDATE studio_studio SET name = 'Changed since'")
    before = here.everything()
    whole = archive.read_bytes()
    for damaged in (whole[: len(whole) // 2], whole[:-1], whole[:200]):
        archive.write_bytes(damaged)
        with pytest.raises(BadBackup, match="cut short"):
            put_back(archive, here, replace=True)
    changed = bytearray(whole)
    changed[len(whole) // 2] ^= 255
    archive.write_bytes(changed)
    with pytest.raises(BadBackup, match=r"damaged"):
        put_back(archive, here, replace=True)
    archive.write_bytes(whole)
    steps = "studio.services.backups.restoring.{}".format
    with monkeypatch.context() as patched:
        patched.setattr(steps("is_half_way"), lambda _: True)
        with pytest.raises(BadBackup, match="older version and lacks steps"):
            put_back(archive, here, replace=True)
    monkeypatch.setattr(steps("known_steps"), set)
    with pytest.raises(BadBackup, match="newer Slowcool"):
        put_back(archive, here, replace=True)
    assert here.everything() == before
    assert sorted(p.name for p in here.backups.iterdir()) == [archive.name]


def test_nothing_is_replaced_under_another_program(here):
    archive = back_up(here)
    here.execute("UPDATE studio_studio SET name = 'Changed since'")
    before = here.everything()
    if here.is_sqlite:
        other = sqlite3.connect(here.var / "slowcool.sqlite3")
        other.execute("PRAGMA journal_mode=WAL")
        other.execute("SELECT count(*) FROM studio_studio").fetchall()
    else:
        other = psycopg.connect(here.url)
    with contextlib.closing(other), pytest.raises(StudioError, match="ther program"):
        put_back(archive, here, replace=True)
    assert here.everything() == before
