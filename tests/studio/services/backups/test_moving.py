"""From SQLite to PostgreSQL: everything, exactly, or nothing."""

import hashlib

import pytest

from studio.errors import Refused
from studio.services.backups.moving import move_database, target_database
from tests.postgres import new_database
from tests.studio.services.backups.worlds import (
    copy_of,
    triggers_and_constraints,
    world,
)

pytestmark = pytest.mark.slow


@pytest.fixture
def source(demo, tmp_path, django_db_blocker):
    copy_of(demo, tmp_path / "source")
    with django_db_blocker.unblock(), world(tmp_path / "source") as made:
        yield made


@pytest.fixture
def target(tmp_path, migrated_postgres, django_db_blocker):
    with (
        django_db_blocker.unblock(),
        new_database(template=migrated_postgres) as url,
        world(tmp_path / "target", url) as made,
    ):
        yield made


def move(source, target):
    return move_database(source=source.alias, target=target.alias, tell=str)


def test_the_command_moves_everything_and_touches_nothing(
    demo, demo_on_postgres, migrated_postgres, tmp_path, django_db_blocker
):
    url, told = demo_on_postgres
    assert "same count and hash" in told
    with (
        new_database(template=url) as copy,
        django_db_blocker.unblock(),
        world(tmp_path / "moved", copy) as moved,
        world(demo.var) as source,
    ):
        assert moved.everything()[0] == source.everything()[0]
        numbers = moved.execute(
            "SELECT nextval(pg_get_serial_sequence('firing_reading', 'id')), max(id) "
            "FROM firing_reading"
        )
        enforced = triggers_and_constraints(copy)
    assert numbers[0][0] == numbers[0][1] + 1
    assert enforced == triggers_and_constraints(migrated_postgres)


def test_the_source_stays_as_it_is_byte_for_byte(source, target):
    path = source.var / "slowcool.sqlite3"
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    move(source, target)
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before
    with pytest.raises(Refused, match="not empty"):
        move(source, target)


def test_a_row_that_postgresql_does_not_take_leaves_it_without_any(source, target):
    source.execute("UPDATE studio_studio SET name = %s", "x" * 500)
    with pytest.raises(Refused, match="studio_studio"):
        move(source, target)
    assert target.execute("SELECT count(*) FROM studio_person") == [(0,)]
    source.execute("UPDATE studio_studio SET name = 'Short'")
    move(source, target)
    assert target.everything()[0] == source.everything()[0]


def test_a_difference_afterwards_is_found_and_nothing_is_kept(
    source, target, monkeypatch
):
    from studio.services.backups import moving

    def reset(models, alias):
        with moving.connections[alias].cursor() as cursor:
            cursor.execute("UPDATE firing_reading SET temperature_c = 1 WHERE id = 1")

    monkeypatch.setattr(moving, "_reset_sequences", reset)
    with pytest.raises(Refused, match="Not the same afterwards: firing_reading"):
        move(source, target)
    assert target.execute("SELECT count(*) FROM firing_reading") == [(0,)]


def test_a_target_that_is_none_is_refused(source, tmp_path):
    with (
        target_database(
            {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}
        ) as alias,
        pytest.raises(Refused, match="must be a PostgreSQL"),
    ):
        move_database(source=source.alias, target=alias, tell=str)


def test_a_target_that_does_not_answer_is_told_of(source):
    silent = {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": "nowhere",
        "HOST": "127.0.0.1",
        "PORT": "1",
    }
    with (
        target_database(silent) as alias,
        pytest.raises(Refused, match="does not answer"),
    ):
        move_database(source=source.alias, target=alias, tell=str)
