"""Jobs: written with the order, taken once, finished once, given up with a reason."""

import ast
import datetime as dt
import errno
import os
import subprocess
import sys
import threading

import pytest
from celery import Celery
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import OperationalError, connection, transaction
from django.utils import timezone

from studio import bootstrap, jobs
from studio.errors import Refused
from studio.models import OPEN_JOB_STATES, HistoryEntry, Job, JobState
from tests import make
from tests.patience import LONG_S

NOW = make.NOW
LATER = NOW + dt.timedelta(minutes=10)


@pytest.fixture
def handlers(monkeypatch):
    """Give each test a register of its own."""
    register: dict[str, jobs.Handler] = {}
    monkeypatch.setattr(jobs, "_handlers", register)
    return register


@pytest.fixture
def studio(db):
    return make.studio()


def note(studio, text="made"):
    """Return a finish function whose effect can be counted."""
    return lambda: HistoryEntry.across_studios.create(studio=studio, at=NOW, what=text)


def effects() -> int:
    return HistoryEntry.across_studios.count()


def order(studio, handler, *, key="", **arguments) -> Job:
    if "test.job" not in jobs._handlers:
        jobs.handler("test.job")(handler)
    return jobs.enqueue(studio=studio, name="test.job", key=key, **arguments)


def write_note(studio, *, lease, **_):
    return note(studio)


def run(job, now=None):
    return jobs.run(job.pk, clock=(lambda: now) if now else timezone.now)


def again(job) -> Job:
    return Job.across_studios.get(pk=job.pk)


# --- Asking for work --------------------------------------------------------------


def test_job_is_sent_when_its_order_is_committed(
    handlers, studio, wake_ups, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        job = order(studio, write_note)
        assert wake_ups == []
    assert wake_ups == [job.pk]


@pytest.mark.django_db(transaction=True)
def test_order_that_is_rolled_back_leaves_no_job(handlers, wake_ups):
    studio = make.studio()

    @transaction.atomic
    def order_and_refuse():
        order(studio, write_note)
        raise Refused("No.")

    with pytest.raises(Refused):
        order_and_refuse()
    assert not Job.across_studios.exists()
    assert wake_ups == []


def test_name_without_handler_is_refused(handlers, studio):
    with pytest.raises(LookupError, match="no-such-job"):
        jobs.enqueue(studio=studio, name="no-such-job")


def test_two_handlers_of_one_name_are_refused(handlers):
    jobs.handler("test.job")(write_note)
    with pytest.raises(ValueError, match=r"test\.job"):
        jobs.handler("test.job")(lambda studio, *, lease: None)


def test_same_key_is_one_job_until_it_fails(handlers, studio):
    def refuse(studio, *, lease):
        raise Refused("The kiln is taken.")

    job = order(studio, refuse, key="quote 7")
    assert order(studio, refuse, key="quote 7") == job
    assert run(job) is JobState.FAILED
    second = order(studio, refuse, key="quote 7")
    assert second != job
    assert Job.across_studios.count() == 2


def test_same_key_of_a_finished_job_is_another_job(handlers, studio):
    job = order(studio, write_note, key="quote 7")
    assert jobs.claim(job.pk, now=timezone.now()) is not None
    assert order(studio, write_note, key="quote 7") == job, "it runs"
    Job.across_studios.filter(pk=job.pk).update(state=JobState.DONE)
    again = order(studio, write_note, key="quote 7")
    assert again != job
    assert jobs.last_with_key(studio, "quote 7") == again
    assert jobs.last_with_key(studio, "quote 8") is None


def test_same_key_in_another_studio_is_another_job(handlers, studio):
    job = order(studio, write_note, key="quote 7")
    assert order(make.studio(name="Fernhaven"), write_note, key="quote 7") != job


def nobody_listens() -> Celery:
    """Return an application whose Redis is not there."""
    dead = Celery("dead", broker="redis://127.0.0.1:1/0", set_as_current=False)
    code = (
        "from studio import settings; print(settings.CELERY_BROKER_TRANSPORT_OPTIONS)"
    )
    environment = {**os.environ, "STUDIO_REDIS_URL": "redis://127.0.0.1:1/0"}
    asked = [sys.executable, "-c", code]
    dead.conf.broker_transport_options = ast.literal_eval(
        subprocess.run(
            asked,
            env=environment,
            cwd=bootstrap.ROOT,
            capture_output=True,
            text=True,
            check=True,
        ).stdout
    )
    return dead


def folder_is_gone(tmp_path) -> Celery:
    """Return an application whose broker folder is not there."""
    dead = Celery("dead", broker="folder://localhost", set_as_current=False)
    gone = str(tmp_path / "gone")
    dead.conf.broker_transport_options = {
        "data_folder_in": gone,
        "data_folder_out": gone,
        "control_folder": gone,
    }
    return dead


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("broker", ["nobody_listens", "folder_is_gone"])
def test_broker_that_is_down_delays_the_job_only(broker, monkeypatch, caplog, tmp_path):
    monkeypatch.undo()  # this one really sends ...
    monkeypatch.setattr(jobs, "_handlers", {})
    dead = nobody_listens() if broker == "nobody_listens" else folder_is_gone(tmp_path)
    monkeypatch.setattr(jobs, "app", dead)  # ... into the void
    studio = make.studio()
    pauses = []
    monkeypatch.setattr("kombu.utils.functional.sleep", pauses.append)
    monkeypatch.setattr("redis.retry.sleep", pauses.append)
    with transaction.atomic():
        job = order(studio, write_note)
    assert sum(pauses) < 1, "the person who asked was kept waiting"
    assert "the broker does not answer" in caplog.text
    assert again(job).state == JobState.WAITING
    dead.close()

    sent = []
    monkeypatch.setattr(jobs, "send", sent.append)
    assert jobs.send_forgotten(now=timezone.now()) == 1
    assert sent == [job.pk]


@pytest.mark.django_db(transaction=True)
def test_order_stands_though_neither_message_nor_note_can_be_written(
    handlers, monkeypatch, tmp_path
):
    monkeypatch.undo()
    monkeypatch.setattr(jobs, "_handlers", {})
    monkeypatch.setattr(jobs, "app", folder_is_gone(tmp_path))

    def full(execute, sql, *rest):
        if sql.startswith("UPDATE"):
            raise OperationalError("database or disk is full")
        return execute(sql, *rest)

    studio = make.studio()
    with connection.execute_wrapper(full), transaction.atomic():
        job = order(studio, write_note)
    assert again(job).state == JobState.WAITING
    sent = []
    monkeypatch.setattr(jobs, "send", sent.append)
    jobs.send_forgotten(now=timezone.now() + dt.timedelta(minutes=1))
    assert sent == [job.pk]


# --- Doing the work ---------------------------------------------------------------


def test_arguments_and_studio_reach_the_handler(handlers, studio):
    seen = {}

    def look(studio, *, lease, **arguments):
        seen.update(arguments, studio=studio)

    assert run(order(studio, look, quote_id=7, kind="pdf")) is JobState.DONE
    assert seen == {"quote_id": 7, "kind": "pdf", "studio": studio}


def test_handler_works_outside_a_transaction_and_finish_inside(handlers, studio):
    depth = len(connection.savepoint_ids)  # the test itself is a transaction
    seen = []

    def look(studio, *, lease):
        seen.append(len(connection.savepoint_ids) - depth)
        return lambda: seen.append(len(connection.savepoint_ids) - depth)

    run(order(studio, look))
    assert seen == [0, 1]


def test_job_that_is_done_is_not_done_again(handlers, studio):
    job = order(studio, write_note)
    assert run(job) is JobState.DONE
    assert run(job) is None
    assert effects() == 1


def test_job_that_runs_is_not_taken_until_its_lease_ends(handlers, studio, settings):
    job = order(studio, write_note)
    start = again(job).run_after
    assert jobs.claim(job.pk, now=start) is not None
    just_before = start + dt.timedelta(seconds=settings.JOB_LEASE_SECONDS)
    assert jobs.claim(job.pk, now=just_before) is None
    taken = jobs.claim(job.pk, now=just_before + dt.timedelta(microseconds=1))
    assert taken is not None
    assert taken.attempts == 2


def test_worker_that_lost_its_lease_has_no_effect(handlers, studio, caplog):
    def slow(studio, *, lease):
        # Meanwhile another worker finds the lease ended and does the whole job.
        Job.across_studios.filter(pk=lease.job_id).update(lease_until=NOW)
        handlers["test.job"] = write_note
        assert run(job) is JobState.DONE
        return note(studio, "by the slow one")

    job = order(studio, slow)
    assert run(job) is None
    assert [entry.what for entry in HistoryEntry.across_studios.all()] == ["made"]
    assert again(job).state == JobState.DONE
    assert "lease lost" in caplog.text


def test_renewing_tells_progress_and_notices_a_lost_lease(handlers, studio):
    def slow(studio, *, lease):
        lease.renew("page 3 of 9")
        assert again(job).progress == "page 3 of 9"
        Job.across_studios.filter(pk=lease.job_id).update(token="somebody else's")
        lease.renew()
        pytest.fail("The lost lease went unnoticed.")

    job = order(studio, slow)
    assert run(job) is None
    assert again(job).state == JobState.RUNNING  # the other worker's matter


@pytest.mark.django_db(transaction=True)
def test_lease_is_renewed_while_the_work_goes_on(handlers, settings):
    settings.JOB_LEASE_SECONDS = 0.3
    renewed = threading.Event()

    def slow(studio, *, lease):
        first = again(job).lease_until
        for _ in range(round(LONG_S / 0.05)):
            if again(job).lease_until > first:
                renewed.set()
                break
            threading.Event().wait(0.05)

    job = order(make.studio(), slow)
    assert run(job) is JobState.DONE
    assert renewed.is_set()


# --- When it goes wrong -----------------------------------------------------------


def test_rule_that_refuses_fails_at_once_with_its_own_words(handlers, studio):
    def refuse(studio, *, lease):
        raise Refused("Sheet 4 is of another family.")

    job = order(studio, refuse)
    assert run(job) is JobState.FAILED
    assert again(job).error == "Sheet 4 is of another family."
    assert again(job).finished_at is not None


def test_fault_is_tried_again_later_and_then_given_up(handlers, studio, caplog):
    def stumble(studio, *, lease):
        raise RuntimeError("no more ink")

    job = order(studio, stumble)
    now = again(job).run_after
    for attempt in range(1, jobs.MOST_ATTEMPTS):
        assert run(job, now) is JobState.WAITING, attempt
        assert run(job, now) is None, "not before the pause is over"
        assert again(job).run_after > now
        now = again(job).run_after
    assert run(job, now) is JobState.FAILED
    assert again(job).attempts == jobs.MOST_ATTEMPTS
    assert again(job).error.endswith(f"to look for job {job.pk} in its log.")
    assert caplog.text.count("Traceback") == jobs.MOST_ATTEMPTS


def test_job_waits_out_a_full_disk_and_says_so(handlers, studio, caplog):
    full = OSError(errno.ENOSPC, "No space left on device")

    def fill(studio, *, lease):
        raise full

    job = order(studio, fill)
    now = again(job).run_after
    pauses = []
    for _ in range(3 * jobs.MOST_ATTEMPTS):
        assert run(job, now) is JobState.WAITING
        pauses.append(again(job).run_after - now)
        now += pauses[-1]
    assert pauses[:2] == [jobs.FIRST_RETRY] * 2
    assert pauses == sorted(pauses)
    assert pauses[-1] == jobs.LONGEST_PAUSE
    assert again(job).trouble == "The disk is full."
    assert "No space left on device" in caplog.text
    assert "Traceback" not in caplog.text

    handlers["test.job"] = write_note
    assert run(job, now) is JobState.DONE
    assert effects() == 1
    assert again(job).trouble == ""


def test_finish_that_fails_leaves_nothing_behind(handlers, studio, caplog):
    def half(studio, *, lease):
        def finish():
            note(studio)()
            raise RuntimeError("disk full")

        return finish

    job = order(studio, half)
    assert run(job) is JobState.WAITING
    assert effects() == 0
    assert again(job).error.startswith("Something in the program went wrong.")
    assert "disk full" in caplog.text


def test_job_that_fails_at_the_end_leaves_no_file(handlers, studio, media_folder):
    def write(studio, *, lease):
        name = default_storage.save("exports/1/a.zip", ContentFile(b"PK"))

        def finish():
            default_storage.save("exports/1/b.zip", ContentFile(b"PK"))
            assert default_storage.exists(name)
            raise OSError(errno.ENOSPC, "full")

        return finish

    assert run(order(studio, write)) is JobState.WAITING
    assert not [path for path in media_folder.rglob("*") if path.is_file()]


def test_fault_after_success_of_a_retry_is_forgotten(handlers, studio, caplog):
    def stumble(studio, *, lease):
        handlers["test.job"] = write_note
        raise RuntimeError("no more ink")

    job = order(studio, stumble)
    run(job)
    assert run(job, again(job).run_after) is JobState.DONE
    assert again(job).error == ""


# --- The sweep --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "is_sent"),
    [
        ({"sent_at": None}, True),
        ({"sent_at": NOW}, True),
        ({"sent_at": LATER - dt.timedelta(seconds=1)}, False),
        ({"sent_at": None, "run_after": LATER + dt.timedelta(seconds=1)}, False),
        ({"state": "running", "token": "t", "lease_until": NOW}, True),
        ({"state": "running", "token": "t", "lease_until": LATER}, False),
        ({"state": "done"}, False),
        ({"state": "failed"}, False),
    ],
)
def test_sweep_sends_what_was_forgotten_and_only_that(
    handlers, studio, wake_ups, changes, is_sent
):
    job = order(studio, write_note)
    values = {"run_after": NOW, "sent_at": NOW} | changes
    Job.across_studios.filter(pk=job.pk).update(**values)
    assert jobs.send_forgotten(now=LATER) == int(is_sent)
    assert wake_ups == [job.pk] * is_sent
    # Sent a moment ago: the next sweep has patience.
    assert jobs.send_forgotten(now=LATER) == 0


def test_job_that_kills_its_workers_is_given_up_with_a_reason(handlers, studio):
    job = order(studio, write_note)
    Job.across_studios.filter(pk=job.pk).update(
        state=JobState.RUNNING,
        token="t",
        lease_until=NOW,
        attempts=jobs.MOST_ATTEMPTS,
    )
    assert jobs.claim(job.pk, now=LATER) is None
    assert jobs.send_forgotten(now=LATER) == 0
    assert again(job).state == JobState.FAILED
    assert "stopped in the middle" in again(job).error


def test_released_lease_may_be_taken_at_once(handlers, studio, wake_ups):
    job = order(studio, write_note)
    start = again(job).run_after
    jobs.claim(job.pk, now=start)
    assert jobs.claim(job.pk, now=start) is None
    assert jobs.release_leases() == 1
    assert jobs.send_forgotten(now=start) == 1
    assert jobs.claim(job.pk, now=start) is not None


# --- Two at once ------------------------------------------------------------------


def in_threads(count, function):
    """Call a function in threads that start together; return what they returned."""
    barrier = threading.Barrier(count)
    results = []

    def body():
        try:
            barrier.wait(timeout=LONG_S)
            results.append(function())
        except Exception as problem:  # noqa: BLE001 - the test looks at it
            results.append(problem)
        finally:
            connection.close()

    threads = [threading.Thread(target=body) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=LONG_S)
    return results


@pytest.mark.django_db(transaction=True)
def test_of_many_workers_one_does_the_job(handlers):
    job = order(make.studio(), write_note)
    results = in_threads(6, lambda: run(job))
    assert sorted(map(str, results)) == ["None"] * 5 + ["done"]
    assert effects() == 1


@pytest.mark.django_db(transaction=True)
def test_same_key_ordered_at_once_is_one_job(handlers):
    studio = make.studio()
    jobs.handler("test.job")(write_note)

    def order_it():
        with transaction.atomic():
            return jobs.enqueue(studio=studio, name="test.job", key="quote 7").pk

    results = in_threads(6, order_it)
    assert len(set(results)) == 1, results
    assert Job.across_studios.count() == 1


def over(job, state, *, days):
    """Let a job have ended so many days ago."""
    ended = {"state": state, "finished_at": NOW - dt.timedelta(days=days)}
    Job.across_studios.filter(pk=job.pk).update(**ended)
    return job.pk


def test_jobs_that_are_over_are_forgotten_with_their_keys(
    handlers, studio, monkeypatch
):
    monkeypatch.setattr(jobs, "FORGET_BATCH", 1)
    over(order(studio, write_note), JobState.DONE, days=8)
    over(order(studio, write_note, key="once"), JobState.DONE, days=8)
    over(order(studio, write_note), JobState.FAILED, days=31)
    left = {
        over(order(studio, write_note, key="new"), JobState.DONE, days=6),
        over(order(studio, write_note, key="told"), JobState.FAILED, days=29),
        order(studio, write_note).pk,
    }
    assert jobs.forget_over(now=NOW) == 3
    assert set(Job.across_studios.values_list("pk", flat=True)) == left
    assert jobs.forget_over(now=NOW) == 0


def test_what_is_looked_up_of_jobs_has_an_index(studio):
    """By key, by name and by state: never by reading every old job."""
    old = {
        "studio": studio,
        "state": JobState.DONE,
        "created_at": NOW,
        "run_after": NOW,
    }
    Job.across_studios.bulk_create(
        Job(name=f"job {number % 50}", key=f"key {number}", **old)
        for number in range(2000)
    )
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE studio_job")
    mine = Job.owned.for_studio(studio)
    for found, indexes in (
        (mine.filter(key="key 7").order_by("-pk"), ["job_by_key"]),
        (
            mine.filter(key="key 7", state__in=OPEN_JOB_STATES),
            ["job_by_key", "job_key_once_while_open", "job_by_state"],
        ),
        (mine.filter(name="job 7").order_by("-created_at", "-pk"), ["job_by_name"]),
        (
            Job.across_studios.filter(state="waiting", run_after__lte=NOW),
            ["job_by_state"],
        ),
        (mine.filter(name="job 7", state="waiting"), ["job_by_state"]),
    ):
        assert any(index in found.explain() for index in indexes)
