"""Set-up of the test run: Chromium, screenshots, wake-ups for the worker.

The people, studios and pieces in the tests are in `tests.cast`.
"""

import gc
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import hypothesis
import pytest
from playwright.sync_api import expect
from pytest_django.plugin import blocking_manager_key

from studio import bootstrap
from tests.cast import cast, signed_in, strangers  # noqa: F401 - fixtures
from tests.databases import (  # noqa: F401 - fixtures
    django_db_keepdb,
    django_db_modify_db_settings,
    remove_template,
)
from tests.demo import demo, loaded_demo  # noqa: F401 - fixtures
from tests.patience import LONG_S, choose_form, register_profiles
from tests.postgres import remove_kept_databases
from tests.run import is_controller, one_process, process_name
from tests.worker import real_worker  # noqa: F401 - a fixture

ARTEFACTS = bootstrap.ROOT / ".ci" / "artefacts"
COMPILING = pytest.StashKey[subprocess.Popen]()
DATABASE = {"db", "transactional_db", "live_server"}

register_profiles()


def pytest_addoption(parser):
    """Add ``--long``."""
    parser.addoption(
        "--long",
        action="store_true",
        help="run the long cases too, and property tests with more examples",
    )


def pytest_configure(config):
    """Settle the form of the run before any test is read."""
    choose_form(is_long=config.getoption("long"))
    if searched := config.getoption("--hypothesis-profile"):
        hypothesis.settings.load_profile(searched)


COMPILE = """
from firing.physics.slab.warm import warm_up
from tests.run import one_process
with one_process("engine"):
    warm_up()
"""


def pytest_sessionstart(session):
    """Compile the engine once, while the other processes collect."""
    if is_controller(session.config):
        session.config.stash[COMPILING] = subprocess.Popen(
            [sys.executable, "-c", COMPILE], cwd=bootstrap.ROOT
        )


def pytest_collection_modifyitems(config, items):
    """Leave out the long cases, mark what uses the database, put browsers last.

    Playwright's loop stays in the thread for good, and makes Django take every later
    query for an asynchronous one.
    """
    if not config.getoption("long"):
        left_out = [item for item in items if item.get_closest_marker("long")]
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]
    for item in items:
        if item.get_closest_marker("django_db") or DATABASE & {*item.fixturenames}:
            item.add_marker("database")
    in_file = Counter(item.path for item in items)
    items.sort(key=lambda item: turn(item, in_file[item.path]))
    if items and items[-1].get_closest_marker("browser"):
        os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"


def pytest_collection_finish(session):
    """Leave what was imported and collected out of garbage collection: a tenth of all
    seconds went into looking through it again and again.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 50)
    if process_name():
        with one_process("engine"):
            pass  # Whoever held it has compiled the engine.


def turn(item, in_file):
    """Put slow tests first: what starts last should not keep one process long.

    Of the browsers' files those of few tests go first: a process that has two tests
    left is handed the next file, and would sit on a long one.
    """
    is_slow = item.get_closest_marker("slow") is not None
    is_browser = item.get_closest_marker("browser") is not None
    return is_browser, not is_slow, in_file if is_browser else 0


def pytest_sessionfinish(session):
    """Clear up what the processes of the run shared."""
    if is_controller(session.config):
        session.config.stash[COMPILING].wait()
        with session.config.stash[blocking_manager_key].unblock():
            remove_template()
    if not process_name():
        remove_kept_databases()


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    """Start the system's Chromium; Playwright's own download is never used."""
    chromium = bootstrap.find_chromium()
    if chromium is None:
        how = f"Chromium is not installed: {bootstrap.apt_command(['chromium'])}"
        if os.environ.get("CI"):
            pytest.fail(how)
        pytest.skip(how)
    return {
        **browser_type_launch_args,
        "executable_path": chromium,
        # Chromium's own sandbox refuses to run as root.
        "args": ["--no-sandbox", "--disable-dev-shm-usage"],
    }


@pytest.fixture
def new_context(new_context):
    """Open browser contexts that wait as long as anything here does."""
    expect.set_options(timeout=LONG_S * 1000)

    def patient(**options):
        context = new_context(**options)
        context.set_default_timeout(LONG_S * 1000)
        return context

    return patient


@pytest.fixture
def screenshot(page):
    """Return a function that keeps a picture of the page as a CI artefact."""
    return keeper(page)


def keeper(page):
    """Return a function that pictures a page where `.ci/run` asks for it."""

    def keep(name: str) -> None:
        if os.environ.get("CI"):  # Of eighty pages they take half a minute.
            ARTEFACTS.mkdir(parents=True, exist_ok=True)
            page.screenshot(path=ARTEFACTS / f"{name}.png", full_page=True)

    return keep


@pytest.fixture(autouse=True)
def wake_ups(request, monkeypatch):
    """Keep the ids of sent jobs in a list; only tests of a real worker send them."""
    sent: list[int] = []
    if not request.node.get_closest_marker("worker"):
        monkeypatch.setattr("studio.jobs.send", sent.append)
    return sent


@pytest.fixture(autouse=True)
def media_folder(request, settings, tmp_path):
    """Give each test files of its own, but for a worker's, which share the folder."""
    if not request.node.get_closest_marker("worker"):
        # Set through the fixture: it tells the storage, which remembers its folder.
        settings.MEDIA_ROOT = tmp_path / "media"
    return Path(settings.MEDIA_ROOT)
