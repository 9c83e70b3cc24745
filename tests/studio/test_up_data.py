"""What `up` does to the data before it serves: migrate, and fill a new database."""

import errno
import sqlite3
from pathlib import Path

import psycopg
import pytest
from django.core.management.base import CommandError
from django.db import OperationalError

from studio.management.commands import up


@pytest.fixture
def commands(monkeypatch, settings, tmp_path):
    """Record the commands that `up` calls instead of running them."""
    called = []
    settings.VAR_DIR = tmp_path
    monkeypatch.setattr(up, "call_command", lambda name, **_: called.append(name))
    monkeypatch.setattr(up, "get_commands", lambda: {"load_demo": "commissions"})
    # tests/attacks/test_disk.py has a database that is updated.
    monkeypatch.setattr(up.Command, "copy_before_update", lambda _: None)
    return called


@pytest.fixture
def tables(monkeypatch):
    """Let a test say which tables the database has."""
    found = []
    monkeypatch.setattr(
        type(up.connection.introspection), "table_names", lambda *_: list(found)
    )
    return found


def test_new_database_gets_the_demo(db, commands, tables):
    up.Command().prepare_data(demo=True)
    assert commands == ["migrate", "load_demo"]


def test_new_database_without_demo_stays_without(db, commands, tables):
    up.Command().prepare_data(demo=False)
    up.Command().prepare_data(demo=True)  # the tables are still "not there"
    assert commands == ["migrate", "migrate", "load_demo"]


def test_database_in_use_is_migrated_and_left_alone(db, commands, tables):
    tables.append("django_migrations")
    up.Command().prepare_data(demo=True)
    assert commands == ["migrate"]


def test_demo_that_was_interrupted_is_loaded_by_the_next_start(
    db, commands, tables, monkeypatch
):
    def interrupted(name, **_):
        if name == "load_demo":
            raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(up, "call_command", interrupted)
        with pytest.raises(KeyboardInterrupt):
            up.Command().prepare_data(demo=True)
    tables.append("django_migrations")
    up.Command().prepare_data(demo=True)
    up.Command().prepare_data(demo=True)
    assert commands == ["migrate", "load_demo", "migrate"]


def test_production_collects_its_static_files(db, commands, tables, settings):
    settings.IS_PRODUCTION = True
    up.Command().prepare_data(demo=False)
    assert commands == ["migrate", "collectstatic"]


def of_sqlite(name, text):
    """Return an error as Django raises it, with SQLite's own as its cause."""
    problem, cause = OperationalError(text), sqlite3.OperationalError(text)
    cause.sqlite_errorname = name
    problem.__cause__ = cause
    return problem


def test_database_that_does_not_answer_is_told_of(commands, monkeypatch):
    problem = OperationalError("connection refused")
    problem.__cause__ = psycopg.OperationalError("connection refused")

    def refuse(_):
        raise problem

    monkeypatch.setattr(up.connection, "vendor", "postgresql")
    monkeypatch.setattr(type(up.connection.introspection), "table_names", refuse)
    with pytest.raises(CommandError, match=r"connection refused(.|\n)*STUDIO_DATABASE"):
        up.Command().handle(port=0, host="127.0.0.1", no_demo=True)


@pytest.mark.parametrize(
    "problem",
    [
        of_sqlite("SQLITE_FULL", "database or disk is full"),
        of_sqlite("SQLITE_READONLY", "attempt to write a readonly database"),
        OSError(errno.ENOSPC, "No space left on device"),
    ],
)
def test_full_or_closed_disk_is_told_of(commands, tables, monkeypatch, problem):
    def refuse(*_, **__):
        raise problem

    monkeypatch.setattr(up, "call_command", refuse)
    with pytest.raises(CommandError, match=r"cannot be written(.|\n)*STUDIO_VAR_DIR"):
        up.Command().handle(port=0, host="127.0.0.1", no_demo=True)


def test_other_faults_of_the_database_keep_their_words(commands, tables, monkeypatch):
    def refuse(*_, **__):
        raise OperationalError("no such column: x")

    monkeypatch.setattr(up, "call_command", refuse)
    with pytest.raises(OperationalError, match="no such column"):
        up.Command().handle(port=0, host="127.0.0.1", no_demo=True)


def test_interrupted_preparation_ends_with_a_sentence(commands, tables, monkeypatch):
    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(up, "call_command", interrupt)
    with pytest.raises(CommandError, match="The same command goes on"):
        up.Command().handle(port=0, host="127.0.0.1", no_demo=True)


def test_what_cannot_be_closed_to_others_is_named_and_the_start_goes_on(
    settings, tmp_path, monkeypatch, capsys
):
    settings.VAR_DIR = tmp_path
    theirs, ours, closed = (tmp_path / name for name in ("theirs", "ours", "closed"))
    for path, mode in ((theirs, 0o644), (ours, 0o644), (closed, 0o600)):
        path.touch(mode)
        path.chmod(mode)
    change = Path.chmod

    def only_ours(path, mode):
        if path in {theirs, closed}:
            raise PermissionError(errno.EPERM, "Operation not permitted")
        change(path, mode)

    monkeypatch.setattr(Path, "chmod", only_ours)
    up.Command().close_data()
    assert ours.stat().st_mode & 0o077 == 0
    told = capsys.readouterr().err
    assert f"may read {theirs}: only its owner" in told
    assert str(closed) not in told


def test_taken_port_suggests_another():
    with up.listen("127.0.0.1", 0) as held:
        port = held.getsockname()[1]
        with pytest.raises(CommandError, match=f"Port {port} .* up --port"):
            up.listen("127.0.0.1", port)


@pytest.mark.parametrize("port", [-1, 65536, 99999])
def test_port_that_cannot_be_is_told_of(port):
    with pytest.raises(CommandError, match=f"Port {port} "):
        up.listen("127.0.0.1", port)


def test_beats_old_file_is_dropped_whatever_its_ending(settings, tmp_path, db):
    settings.VAR_DIR = tmp_path
    for ending in ("", ".db", ".dat"):
        (tmp_path / f"beat-schedule{ending}").touch()
    (tmp_path / "kept").touch()
    up.clear_the_bench()
    assert [path.name for path in tmp_path.iterdir()] == ["kept"]


def test_addresses_other_machines_use_are_allowed(settings):
    settings.IS_PRODUCTION = False
    with up.listen("127.0.0.1", 0) as held:
        far = up.web_server(held, "192.168.1.20").environment
        near = up.web_server(held, "127.0.0.1").environment
    assert far["STUDIO_ALLOWED_HOSTS"].split(",")[-1] == "192.168.1.20"
    assert "192.168.1.20" not in near.get("STUDIO_ALLOWED_HOSTS", "")
