"""The demo for tests: loaded once per run, then put into each test's database as rows.

Loading takes seconds, because it plans the kilns and draws the pictures; the rows take
a tenth of one. `tests/commissions/demo` tests loading itself.
"""

import datetime as dt
import pickle
import shutil
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.models import QuerySet
from django.test import override_settings

from commissions.demo.load import load
from studio.models import Studio
from tests.run import one_process, shared_folder

MONDAY_MORNING = dt.datetime(2026, 11, 23, 14, 7, tzinfo=dt.UTC)
SEED = 7


@pytest.fixture
def demo(loaded_demo, db, media_folder) -> Studio:
    """Give the test the demo as it is on `MONDAY_MORNING`; return its larger studio."""
    kept, pictures = loaded_demo
    # Rows name others that come later.
    with transaction.atomic():
        put_back(pickle.loads(kept))
    shutil.copytree(pictures, media_folder, dirs_exist_ok=True)
    return Studio.objects.get(name="Ebbside Kilns")


@pytest.fixture(scope="session")
def loaded_demo(django_db_setup, django_db_blocker):
    """Load the demo in one process of the run; give its rows and its pictures to all."""
    pictures = shared_folder() / "demo-media"
    with django_db_blocker.unblock(), one_process("demo") as done:
        if not done.exists():
            done.write_bytes(pickle.dumps(rows_of_the_demo(pictures)))
        kept = done.read_bytes()
    return kept, pictures


def rows_of_the_demo(pictures: Path) -> dict:
    """Load the demo, read what it added to each table, and undo it."""
    pictures.mkdir(parents=True)
    with override_settings(MEDIA_ROOT=pictures), transaction.atomic():
        before = {model: QuerySet(model).count() for model in models()}
        assert load(now=MONDAY_MORNING, seed=SEED)
        rows = {
            model._meta.label: list(QuerySet(model).values())
            for model, count in before.items()
            if QuerySet(model).count() != count
        }
        transaction.set_rollback(True)
    assert not any(before[apps.get_model(label)] for label in rows), (
        "added to what a test left"
    )
    return rows


def models() -> list:
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if not model._meta.proxy]


def put_back(rows: dict) -> None:
    """Write rows as they were read, and let new ones be numbered after them."""
    for label, of_model in rows.items():
        model = apps.get_model(label)
        QuerySet(model).bulk_create(model(**row) for row in of_model)
    changed = [apps.get_model(label) for label in rows]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), changed):
            cursor.execute(statement)
