"""A real background worker for tests, and a way to do waiting jobs without one."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone

from studio import bootstrap, jobs
from studio.celery import app
from studio.models import Job, JobState
from tests.patience import LONG_S

QUEUE = "celery"


def run_waiting_jobs() -> list[JobState | None]:
    """Do all waiting jobs here and now, as the worker would; return how each ended."""
    waiting = Job.across_studios.filter(state=JobState.WAITING).order_by("pk")
    return [jobs.run(job.pk, clock=timezone.now) for job in list(waiting)]


def database_url() -> str:
    """Return the address of the database that this test uses."""
    now = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{now['NAME']}"
    who = f"{quote(now['USER'], safe='')}:{quote(now['PASSWORD'], safe='')}"
    return f"postgres://{who}@{now['HOST']}:{now['PORT']}/{now['NAME']}"


def wait_until(true: Callable[[], object], *, within_s: float = LONG_S) -> None:
    """Look until something is true, or fail."""
    deadline = time.monotonic() + within_s
    while not true():
        if time.monotonic() > deadline:
            pytest.fail(f"Not true within {within_s:g} s.")
        time.sleep(0.05)


class RealWorker:
    """A Celery worker with beat, on this test's database, broker and folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, *, include: str = "", processes: int = 1, **more: str) -> None:
        """Start it; `include` names a module with handlers, `more` more settings."""
        command = [sys.executable, "-m", "celery", "-A", "studio.celery", "--quiet"]
        command += ["worker", "-B", "--concurrency", str(processes)]
        command += ["--loglevel", "warning"]
        command += ["--schedule", str(self.folder / "beat"), "--without-gossip"]
        command += ["--without-mingle", "--without-heartbeat"]
        if include:
            command += ["--include", include]
        environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "studio.settings",
            "PYTHONPATH": str(bootstrap.ROOT),
            "PYTHONWARNINGS": "ignore:You're running the worker with superuser",
            "STUDIO_VAR_DIR": str(settings.VAR_DIR),
            "STUDIO_DATABASE_URL": database_url(),
            "STUDIO_JOB_SWEEP_SECONDS": "1",
            "STUDIO_JOB_RESEND_SECONDS": "1",
            "STUDIO_JOB_LEASE_SECONDS": "2",
            **more,
        }
        with (self.folder / "worker.log").open("ab") as log:
            self.process = subprocess.Popen(
                command, env=environment, start_new_session=True, stdout=log, stderr=log
            )

    def kill(self) -> None:
        """End it and all its processes at once, as a power cut would."""
        if self.process is not None:
            with contextlib.suppress(ProcessLookupError):  # it ended by itself
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None

    def stop(self) -> int:
        """Ask it to finish what it does and to end."""
        assert self.process is not None
        self.process.terminate()
        code = self.process.wait(timeout=LONG_S)
        self.process = None
        return code

    @property
    def log(self) -> str:
        """Return what it said so far."""
        path = self.folder / "worker.log"
        return path.read_text(errors="replace") if path.exists() else ""


@pytest.fixture
def real_worker(transactional_db, tmp_path):
    """Start nothing yet: a test calls ``start()``. Needs the mark ``worker``."""
    with app.connection_for_write() as broker:
        app.amqp.queues[QUEUE].bind(broker.default_channel).declare()
        broker.default_channel.queue_purge(QUEUE)
    worker = RealWorker(tmp_path)
    yield worker
    worker.kill()
    if worker.log:
        print(worker.log)
