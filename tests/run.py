"""One test run in several processes: what each has for itself, and what they share.

pytest-xdist names a process in ``PYTEST_XDIST_WORKER``: ``gw0``, ``gw1`` and so on.
"""

import contextlib
import fcntl
import os
from collections.abc import Iterator, MutableMapping
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

import pytest

REDIS_DATABASES = 16
"""What a Redis server has unless it is told otherwise."""


def process_name() -> str:
    """Return the name of this process among those of the run; empty if it is alone."""
    return os.environ.get("PYTEST_XDIST_WORKER", "")


def is_controller(config: pytest.Config) -> bool:
    """Tell whether this process runs no test itself, but others that do."""
    return bool(config.getoption("numprocesses", None)) and not process_name()


def apart(environment: MutableMapping[str, str]) -> None:
    """Give this process a data folder and a Redis database that no other one uses."""
    name = process_name()
    folder = Path(environment["STUDIO_VAR_DIR"])
    if not name or folder.name == name:  # alone, or started by a test of that process
        return
    environment["STUDIO_VAR_DIR"] = str(folder / name)
    if redis := environment.get("STUDIO_REDIS_URL"):
        environment["STUDIO_REDIS_URL"] = _moved(redis, by=int(name.removeprefix("gw")))


def _moved(redis: str, *, by: int) -> str:
    parts = urlsplit(redis)
    number = (int(parts.path.strip("/") or 0) + by) % REDIS_DATABASES
    return urlunsplit(parts._replace(path=f"/{number}"))


def shared_folder() -> Path:
    """Return the folder that all processes of a run see."""
    own = Path(os.environ["STUDIO_VAR_DIR"])
    return own.parent if process_name() else own


@contextlib.contextmanager
def one_process(what: str) -> Iterator[Path]:
    """Let one process at a time in; give it the file that tells that it is done."""
    folder = shared_folder()
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / f"{what}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield folder / f"{what}.done"
