"""Eighty papers ordered at once: what somebody waits for goes before them."""

import pytest
from django.utils import timezone

from studio import jobs
from studio.management.commands.up import worker
from studio.models import Job, JobState
from tests import make
from tests.studio import worker_handlers
from tests.worker import wait_until

PAPERS = 80


@pytest.fixture
def done(monkeypatch):
    """Return what was done, in order, by handlers of this test's own."""
    told = []
    monkeypatch.setattr(jobs, "_handlers", {})
    monkeypatch.setattr(jobs, "_slow", set())
    jobs.handler("paper", is_slow=True)(lambda *_, number, **__: told.append(number))
    jobs.handler("verdict")(lambda *_, **__: told.append("verdict"))
    return told


@pytest.fixture
def sent(monkeypatch):
    """Return the jobs a worker is woken for."""
    told = []
    monkeypatch.setattr(jobs, "send", told.append)
    return told


def order(studio, name, **arguments):
    return jobs.enqueue(studio=studio, name=name, **arguments).pk


def answer(job_id):
    jobs.answer(job_id, clock=timezone.now)


def test_a_verdict_ordered_after_80_papers_is_next(db, done, sent):
    studio = make.studio()
    papers = [order(studio, "paper", number=number) for number in range(PAPERS)]
    order(studio, "verdict")
    answer(papers[0])
    assert done == ["verdict", 0]
    assert sent == [papers[1]], "one paper wakes the next"


def test_papers_are_not_kept_waiting_for_ever(db, done, sent):
    studio = make.studio()
    paper = order(studio, "paper", number=0)
    for _ in range(20):
        order(studio, "verdict")
    answer(paper)
    assert done == ["verdict"] * jobs.URGENT_FIRST + [0]


def test_only_one_slow_job_runs_on_a_machine(db, done, sent):
    studio = make.studio()
    first, second = (order(studio, "paper", number=number) for number in range(2))
    verdict = order(studio, "verdict")
    with jobs._place_for_slow_work() as is_free:
        assert is_free
        answer(second)
        assert done == ["verdict"]
        assert Job.across_studios.get(pk=second).state == JobState.WAITING
        answer(verdict)
    assert not sent
    answer(first)
    assert sent == [second], "whoever had the place wakes who found it taken"
    answer(second)
    assert done == ["verdict", 0, 1]


def test_what_is_slow_and_what_is_not():
    for handlers in ("studio.tasks", "firing.tasks", "commissions.tasks"):
        __import__(handlers)
    assert jobs._slow - {"test.paper"} == {
        "studio.export",
        "studio.render_cutting_sheet",
        "firing.render_controller_sheet",
        "firing.render_door_sign",
        "studio.render_labels",
        "studio.render_registration",
        "studio.render_show_list",
        "firing.render_piece_record",
        "firing.render_verdict_sheet",
        "firing.render_week_sheet",
        "firing.delete_readings",
        "firing.plan",
        "commissions.render_quote",
        "commissions.render_accepted_quote",
        "commissions.render_consignment",
        "commissions.render_invoice",
        "commissions.render_receipt",
        "commissions.render_statement",
        "commissions.check_promise",
    }


def test_one_process_is_always_left_for_urgent_work():
    command = worker().command
    assert int(command[command.index("--concurrency") + 1]) >= 2


@pytest.mark.worker
@pytest.mark.slow
def test_a_verdict_is_done_while_a_long_paper_is_made(real_worker, tmp_path):
    studio = make.studio()
    real_worker.start(include=worker_handlers.__name__, processes=2)
    papers = [order(studio, "test.paper", folder=str(tmp_path)) for _ in range(4)]
    starts = tmp_path / "starts"
    wait_until(starts.exists)
    verdict = order(studio, "test.urgent")
    wait_until(lambda: Job.across_studios.get(pk=verdict).state == JobState.DONE)
    assert starts.read_text() == "start\n", "one paper at a time"
    (tmp_path / "go").touch()
    made = Job.across_studios.filter(pk__in=papers, state=JobState.DONE)
    wait_until(lambda: made.count() == len(papers))
