"""The migrate command, on databases of older versions."""

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

pytestmark = pytest.mark.django_db


def remembered_as(*steps):
    recorder = MigrationRecorder(connection)
    for app, name in recorder.applied_migrations():
        if app == "studio":
            recorder.record_unapplied(app, name)
    for step in steps:
        recorder.record_applied("studio", step)


def test_a_database_that_lacks_some_old_steps_is_refused_and_left_alone():
    remembered_as("0001_initial", "0002_bench_hours")
    before = MigrationRecorder(connection).applied_migrations().keys()
    with pytest.raises(CommandError, match=r"older version.*git checkout .*come back"):
        call_command("migrate", verbosity=0)
    assert MigrationRecorder(connection).applied_migrations().keys() == before


def test_a_database_that_has_taken_all_old_steps_goes_on():
    names = (
        "0001_initial 0002_bench_hours 0003_glass_expansion 0004_kiln_offset "
        "0005_bench_minutes_and_due_dates 0006_job_lookups 0007_leaving"
    )
    # SQLite changes no table inside a test: the steps since then stay taken.
    taken = MigrationRecorder(connection).applied_migrations()
    since = {name for app, name in taken if app == "studio"} - {"0001_tables"}
    remembered_as(*names.split(), *since)
    call_command("migrate", verbosity=0)
    applied = MigrationRecorder(connection).applied_migrations()
    assert ("studio", "0001_tables") in applied
