"""The database of a test run: migrated by one process, copied by the others."""

import shutil

import pytest
from django.conf import settings
from django.db import connection

from tests.run import one_process, process_name, shared_folder


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    request, django_db_modify_db_settings_parallel_suffix, django_db_blocker
):
    """Have the database of this process made from one that is migrated already."""
    if not process_name() or request.config.getoption("reuse_db"):
        yield
        return
    own = connection.settings_dict["NAME"]
    with django_db_blocker.unblock(), one_process("migrated") as done:
        if not done.exists():
            migrate_into(template_name())
            done.touch()
        copy_template()
    yield
    with django_db_blocker.unblock():
        connection.creation.destroy_test_db(own, verbosity=0)


@pytest.fixture(scope="session")
def django_db_keepdb(request):
    """Let pytest-django use the copy that was made above, and not remove it."""
    return bool(process_name()) or request.config.getoption("reuse_db")


def template_name() -> str:
    if connection.vendor == "sqlite":
        return str(shared_folder() / "migrated.sqlite3")
    return f"test_{settings.DATABASE_NAME}_migrated"


def copy_template() -> None:
    """Make this process's database from the template; one process at a time may."""
    test = connection.settings_dict["TEST"]
    if connection.vendor == "sqlite":
        shutil.copy(template_name(), test["NAME"])
    else:
        test["TEMPLATE"] = template_name()
        connection.creation._create_test_db(verbosity=0, autoclobber=True)


def remove_template() -> None:
    """Leave nothing on the server; a file goes with the folder of the run."""
    if connection.vendor == "postgresql":
        with connection._nodb_cursor() as cursor:
            name = connection.ops.quote_name(template_name())
            cursor.execute(f"DROP DATABASE IF EXISTS {name}")


def migrate_into(name: str) -> None:
    """Make a database of this name with all tables, and leave the connection as it was."""
    database = connection.settings_dict
    own, test = database["NAME"], database["TEST"]["NAME"]
    database["TEST"]["NAME"] = name
    try:
        connection.creation.create_test_db(
            verbosity=0, autoclobber=True, serialize=False
        )
        connection.close()
    finally:
        database["TEST"]["NAME"] = test
        database["NAME"] = settings.DATABASES["default"]["NAME"] = own
