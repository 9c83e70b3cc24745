"""The demo, made once for all tests of backups and copied for each."""

import pytest

from tests.postgres import kept_database, new_database
from tests.run import one_process, shared_folder
from tests.studio.services.backups.worlds import copy_of, unread_world, world


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """Return an installation on SQLite with the demo, which no test may change.

    One process of the run makes it, each has a copy.
    """
    own = tmp_path_factory.mktemp("demo") / "var"
    with one_process("installation") as made_already:
        made = unread_world(shared_folder() / "installation")
        for command in () if made_already.exists() else ("migrate", "load_demo"):
            done = made.manage(command)
            assert done.returncode == 0, done.stderr
        made_already.touch()
        copy_of(made, own)
    return unread_world(own)


@pytest.fixture(scope="session")
def migrated_postgres():
    """Return the address of a database with all tables and no row of anybody's."""
    with new_database() as url, world(shared_folder() / "migrated-pg", url) as made:
        done = made.manage("migrate")
        assert done.returncode == 0, done.stderr
        yield url


@pytest.fixture(scope="session")
def demo_on_postgres(demo):
    """Return the address of a database with the same demo, moved there, and the log.

    No test may be connected to it: it is copied while others run.
    """

    def fill(url):
        done = demo.manage("move_database", "--to", url)
        assert done.returncode == 0, done.stderr
        return done.stdout

    return kept_database("demo", fill)


@pytest.fixture(params=["sqlite", "postgresql"])
def here(request, demo, tmp_path, settings, django_db_blocker):
    """Return a copy of the demo on either database, in which a test may do anything."""
    with django_db_blocker.unblock():
        copy_of(demo, tmp_path / "here")
        if request.param == "sqlite":
            with world(tmp_path / "here") as made:
                made.settle(settings)
                yield made
            return
        url, _ = request.getfixturevalue("demo_on_postgres")
        with new_database(template=url) as own, world(tmp_path / "here", own) as made:
            made.settle(settings)
            yield made


@pytest.fixture
def elsewhere(here, tmp_path, django_db_blocker):
    """Return a new, empty installation on the same kind of database."""
    with django_db_blocker.unblock():
        if here.is_sqlite:
            with world(tmp_path / "elsewhere") as made:
                yield made
            return
        with new_database() as own, world(tmp_path / "elsewhere", own) as made:
            yield made
