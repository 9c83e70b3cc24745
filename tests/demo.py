"""The demo for tests: loaded once in a run, then put into each test's database as rows.

Loading takes seconds, for it plans the kilns and draws the pictures; the rows take a
tenth of one. What loading itself does is tested in `tests/commissions/demo`.
"""

import datetime as dt
import pickle
import shutil
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, transaction
from django.test import override_settings

from commissions.demo.load import load
from studio.models import Studio
from tests.run import one_process, shared_folder

MONDAY_MORNING = dt.datetime(2026, 11, 23, 14, 7, tzinfo=dt.UTC)
SEED = 7


@pytest.fixture
def demo(loaded_demo, db, media_folder) -> Studio:
    """Give the test the demo as it is on `MONDAY_MORNING`; return its larger studio."""
    rows, pictures = loaded_demo
    put_back(rows)
    shutil.copytree(pictures, media_folder, dirs_exist_ok=True)
    return Studio.objects.get(name="Ebbside Kilns")


@pytest.fixture(scope="session")
def loaded_demo(django_db_setup, django_db_blocker):
    """Load the demo in one process of the run; give its rows and its pictures to all."""
    pictures = shared_folder() / "demo-media"
    with django_db_blocker.unblock(), one_process("demo") as done:
        if not done.exists():
            done.write_bytes(pickle.dumps(rows_of_the_demo(pictures)))
        rows = pickle.loads(done.read_bytes())
    return rows, pictures


def rows_of_the_demo(pictures: Path) -> dict:
    """Load the demo, read what it added to each table, and undo it."""
    pictures.mkdir(parents=True)
    with override_settings(MEDIA_ROOT=pictures), transaction.atomic():
        before = {table: count(table) for table in tables()}
        assert load(now=MONDAY_MORNING, seed=SEED)
        rows = {
            table: read(table) for table in tables() if count(table) != before[table]
        }
        transaction.set_rollback(True)
    assert not any(before[table] for table in rows), "added to what a test left"
    return rows


def tables() -> list[str]:
    return [model._meta.db_table for model in models()]


def models() -> list:
    return [
        model
        for model in apps.get_models(include_auto_created=True)
        if not model._meta.proxy
    ]


def count(table: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")
        return cursor.fetchone()[0]


def read(table: str) -> tuple[list[str], list[tuple]]:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
        return [column[0] for column in cursor.description], cursor.fetchall()


def put_back(rows: dict) -> None:
    """Write rows as they were read, and let new ones be numbered after them."""
    with connection.cursor() as cursor:
        for table, (columns, of_table) in rows.items():
            names = ", ".join(map(connection.ops.quote_name, columns))
            places = ", ".join(["%s"] * len(columns))
            cursor.executemany(
                f"INSERT INTO {connection.ops.quote_name(table)} ({names}) "
                f"VALUES ({places})",
                of_table,
            )
        for statement in connection.ops.sequence_reset_sql(no_style(), models()):
            cursor.execute(statement)
