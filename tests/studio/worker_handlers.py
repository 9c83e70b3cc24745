"""Handlers that only the tests' own worker knows: slow work whose pace a test sets.

The worker loads this by name (``--include``), so it holds no tests.
"""

import time
from pathlib import Path

from django.utils import timezone

from studio import jobs
from studio.models import HistoryEntry
from tests.patience import LONG_S


@jobs.handler("test.urgent")
def answer_somebody(studio, *, lease):
    """Do what somebody waits for."""


@jobs.handler("test.paper", is_slow=True)
def make_paper(studio, *, lease, folder):
    """Be as slow as the other, but for nobody who waits."""
    return work_slowly(studio, lease=lease, folder=folder)


@jobs.handler("test.slow")
def work_slowly(studio, *, lease, folder):
    """Tell of every start, wait for leave to go on, then have one effect."""
    place = Path(folder)
    with (place / "starts").open("a") as starts:
        starts.write("start\n")
    deadline = time.monotonic() + LONG_S
    while not (place / "go").exists() and time.monotonic() < deadline:
        time.sleep(0.05)
    return lambda: HistoryEntry.across_studios.create(
        studio=studio, at=timezone.now(), what="done slowly"
    )
