"""A real worker on the configured broker, killed and stopped in the middle of a job."""

import pytest

from studio import jobs
from studio.models import HistoryEntry, Job, JobState
from tests import make
from tests.patience import LONG_S
from tests.studio import worker_handlers
from tests.worker import wait_until

pytestmark = [pytest.mark.worker, pytest.mark.slow]

HANDLERS = worker_handlers.__name__


def order(folder) -> Job:
    return jobs.enqueue(studio=make.studio(), name="test.slow", folder=str(folder))


def starts(folder) -> int:
    path = folder / "starts"
    return path.read_text().count("start") if path.exists() else 0


def state(job) -> str:
    return Job.across_studios.get(pk=job.pk).state


def test_worker_killed_in_the_middle_loses_nothing(real_worker, tmp_path):
    real_worker.start(include=HANDLERS)
    job = order(tmp_path)
    wait_until(lambda: starts(tmp_path) == 1)
    real_worker.kill()
    assert state(job) == JobState.RUNNING
    assert not HistoryEntry.across_studios.exists()

    (tmp_path / "go").touch()
    real_worker.start(include=HANDLERS)
    wait_until(lambda: state(job) == JobState.DONE)
    assert real_worker.stop() == 0, real_worker.log
    assert starts(tmp_path) == 2
    assert HistoryEntry.across_studios.count() == 1
    assert Job.across_studios.get(pk=job.pk).attempts == 2


def test_worker_that_is_stopped_finishes_what_it_has_in_hand(real_worker, tmp_path):
    real_worker.start(include=HANDLERS)
    job = order(tmp_path)
    wait_until(lambda: starts(tmp_path) == 1)
    real_worker.process.terminate()
    (tmp_path / "go").touch()
    assert real_worker.process.wait(timeout=LONG_S) == 0, real_worker.log
    assert state(job) == JobState.DONE
    assert starts(tmp_path) == 1
    assert HistoryEntry.across_studios.count() == 1


def test_job_whose_message_was_lost_is_found_by_the_sweep(
    real_worker, tmp_path, monkeypatch
):
    (tmp_path / "go").touch()
    monkeypatch.setattr(jobs, "send", lambda job_id: None)
    job = order(tmp_path)
    monkeypatch.undo()
    real_worker.start(include=HANDLERS)
    wait_until(lambda: state(job) == JobState.DONE)
    assert HistoryEntry.across_studios.count() == 1
