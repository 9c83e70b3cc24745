"""One file of readings cannot stop a studio: it is large, broken, sent twice or cut off."""

import datetime as dt
import gzip
import io
import subprocess
import sys
import threading
from pathlib import Path
from unittest import mock

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import OperationalError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from firing.controller_log import LogProblem, read_log
from firing.firings.services.running import start_firing
from firing.models import Firing, Reading, ReadingImport, SentFile
from firing.readings.selectors.verdict_inputs import judging_of
from firing.readings.services import bulk, readings, sent_files
from studio.errors import Refused
from studio.models import JobState, Kiln, Membership, Role
from tests.contracts.test_permissions import ADDRESSES, model_for
from tests.demo import MONDAY_MORNING
from tests.firing import build
from tests.patience import in_form
from tests.threads import at_once
from tests.worker import run_waiting_jobs

START = dt.datetime(2026, 3, 4, 9, 0, tzinfo=dt.UTC)
ROOT = Path(__file__).resolve().parents[2]
COUNT = in_form(9_000, 432_000)


def log_of(count, first=0):
    rows = (f"{n},{20 + n % 5000 / 10:.1f}\n" for n in range(first, first + count))
    return ("Elapsed (s),Temp °C\n" + "".join(rows)).encode()


@pytest.fixture
def running(cast):
    started = timezone.now() - dt.timedelta(hours=1)
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=started)
    return start_firing(firing=firing, by=None, at=started)


def send(firing, data, name="kiln.csv"):
    upload = SimpleUploadedFile(name, data)
    now = timezone.now()
    return sent_files.keep_file(firing=firing, upload=upload, by=None, at=now)


def seen(firing):
    return Reading.owned.for_studio(firing.studio).filter(firing=firing).count()


def stored(firing):
    return Reading.with_unfinished.filter(firing=firing).count()


class Killed(Exception):
    """What stops a worker in these tests."""


def test_a_file_whose_row_is_refused_does_not_stay(running, media_folder):
    def full(execute, sql, *rest):
        if sql.startswith("INSERT"):
            raise OperationalError("database or disk is full")
        return execute(sql, *rest)

    with connection.execute_wrapper(full), pytest.raises(OperationalError):
        send(running, log_of(100))
    assert not [path for path in media_folder.rglob("*") if path.is_file()]


def test_nobody_sees_a_file_before_all_of_it_is_in(running):
    sent = send(running, log_of(COUNT))
    looks = []

    def told(_):
        looks.append((seen(running), running.imports.count(), stored(running)))
        assert not judging_of(running).has_readings

    finish = sent_files.bring_in(sent=sent, told=told, at=timezone.now())
    assert {look[:2] for look in looks} == {(0, 0)}
    assert max(look[2] for look in looks) > 0, "they came in batches"
    finish()
    assert (seen(running), running.imports.count()) == (COUNT, 1)


def bring_in_until(monkeypatch, sent, batch):
    """Bring a file in by a worker that is killed before this batch."""
    insert, batches = bulk._insert, iter(range(99))

    def dying(rows):
        if next(batches) == batch:
            raise Killed
        insert(rows)

    with monkeypatch.context() as patched:
        patched.setattr(bulk, "_insert", dying)
        with pytest.raises(Killed):
            sent_files.bring_in(sent=sent, told=str, at=timezone.now())


@pytest.mark.parametrize("at_batch", [0, 1, 3])
def test_a_worker_killed_on_the_way_leaves_nothing_and_the_next_one_all(
    running, monkeypatch, at_batch
):
    sent = send(running, log_of(9_000))
    bring_in_until(monkeypatch, sent, at_batch)
    assert (seen(running), stored(running)) == (0, at_batch * bulk.BATCH)
    again = SentFile.across_studios.get(pk=sent.pk)
    sent_files.bring_in(sent=again, told=str, at=timezone.now())()
    run_waiting_jobs()
    assert seen(running) == stored(running) == 9_000
    assert ReadingImport.with_unfinished.filter(firing=running).count() == 1


def test_what_a_killed_worker_left_is_deleted_in_the_end(running, monkeypatch):
    bring_in_until(monkeypatch, send(running, log_of(9_000)), 2)
    later = timezone.now() + dt.timedelta(days=8)
    assert sent_files.forget_unfinished(later) == 0, "its file may still be read again"
    assert sent_files.forget_sent(later) == 1
    assert sent_files.forget_unfinished(later) == 1
    assert stored(running) == 0


def test_a_start_put_right_meanwhile_refuses_the_file_and_shows_nothing(running):
    sent = send(running, log_of(9_000))
    finish = sent_files.bring_in(sent=sent, told=str, at=timezone.now())
    Firing.across_studios.filter(pk=running.pk).update(
        started_at=running.started_at - dt.timedelta(minutes=5)
    )
    with pytest.raises(Refused, match="start of this firing was changed"):
        finish()
    assert seen(running) == 0


def test_a_file_taken_away_while_it_is_read_leaves_nothing(running):
    sent = send(running, log_of(9_000))
    sent_files._order(sent)
    finish = sent_files.bring_in(sent=sent, told=str, at=timezone.now())
    assert sent_files.take_away(sent=sent)
    finish()
    assert seen(running) == 0
    again = send(running, log_of(9_000))
    sent_files.bring_in(sent=again, told=str, at=timezone.now())()
    assert not sent_files.take_away(sent=again), "it was read in meanwhile"
    run_waiting_jobs()
    assert seen(running) == stored(running) == 9_000


def test_a_file_taken_away_after_its_worker_died_leaves_nothing(running, monkeypatch):
    sent = send(running, log_of(9_000))
    bring_in_until(monkeypatch, sent, 2)
    sent_files.take_away(sent=sent)
    assert send(running, log_of(9_000)).pk, "the same file may come again at once"
    run_waiting_jobs()
    assert stored(running) == 0


def test_a_file_that_was_stopped_begins_anew_when_it_is_sent_again(running):
    data = b"Elapsed (s),Temp C\n0,20\nx,21\n" + log_of(30_000, 1).partition(b"\n")[2]
    sent = send(running, data)
    sent_files.bring_in(sent=sent, told=str, at=timezone.now())()
    sent.refresh_from_db()
    assert "left" in sent.told
    again = send(running, data)
    assert (again.pk, again.told) == (sent.pk, {})


def test_a_file_that_is_being_read_takes_no_second_answer(running):
    sent = send(running, log_of(30_000))
    assert sent_files.take_file(sent=sent, at=timezone.now()) is None
    with pytest.raises(Refused, match="being read already"):
        sent_files.answer_file(
            sent=sent, answers={"unit": "F"}, leave_out=0, at=timezone.now()
        )


def test_every_page_opens_while_a_file_of_a_finished_firing_comes_in(demo):
    """Joins see what no manager shows."""
    firings = Firing.owned.for_studio(demo).filter(readings__isnull=False)
    firing = firings.filter(finished_at__isnull=False).latest("started_at")
    firing.imports.all().delete()
    firing.readings.all().delete()
    sent_files.bring_in(sent=send(firing, log_of(9_000)), told=str, at=timezone.now())
    assert stored(firing) == 9_000
    browser = Client()
    owner = Membership.owned.for_studio(demo).filter(role=Role.OWNER).first().person
    browser.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    about = {Kiln: firing.kiln_id, Firing: firing.pk}
    pages = [
        reverse(one.name, args=[about[model_for(one.name)]] if one.arguments else [])
        for one in ADDRESSES
        if not one.arguments
        or (one.arguments == {"pk"} and model_for(one.name) in about)
    ]
    assert len(pages) > 80
    with mock.patch.object(timezone, "now", return_value=MONDAY_MORNING):
        opened = {page: browser.get(page).status_code for page in pages}
    assert {page: code for page, code in opened.items() if code >= 500} == {}


def test_removed_readings_are_gone_at_once_and_deleted_by_the_worker(running):
    sent = send(running, log_of(9_000))
    sent_files.bring_in(sent=sent, told=str, at=timezone.now())()
    source = running.imports.get()
    readings.remove_import(source=source, by=None, at=timezone.now())
    assert seen(running) == 0
    again = send(running, log_of(9_000))
    assert again.pk, "the same file may come again at once"
    assert set(run_waiting_jobs()) == {JobState.DONE}
    assert stored(running) == 0


def test_of_two_workers_on_one_file_the_last_counts(running):
    """The first lost its lease, and does not know it yet."""
    sent = send(running, log_of(9_000))
    finishes = []

    def told(_):
        if not finishes:
            finishes.append(None)
            again = SentFile.across_studios.get(pk=sent.pk)
            finishes[0] = sent_files.bring_in(sent=again, told=str, at=timezone.now())

    late = sent_files.bring_in(sent=sent, told=told, at=timezone.now())
    finishes[0]()
    assert seen(running) == 0, "the second one was overtaken"
    late()
    run_waiting_jobs()
    assert seen(running) == stored(running) == 9_000


def test_a_file_answered_twice_is_read_in_once(running):
    sent = send(running, b"Elapsed (s),Temp\n0,20\n60,21\n")
    assert sent_files.take_file(sent=sent, at=timezone.now()) is None
    again = SentFile.across_studios.get(pk=sent.pk)

    def answer(one):
        return sent_files.answer_file(
            sent=one, answers={"unit": "C"}, leave_out=0, at=timezone.now()
        )

    assert answer(sent).row_count == 2
    with pytest.raises(Refused, match="read in or taken away meanwhile"):
        answer(again)
    assert seen(running) == 2


@pytest.mark.django_db(transaction=True)
def test_two_senders_bring_one_file_in_once(running):
    data = log_of(3_000)
    sent = [
        one.pk if isinstance(one, SentFile) else one
        for one in at_once(*[lambda: send(running, data)] * 3)
    ]
    assert len(set(sent)) == 1, sent

    def bring():
        now = SentFile.across_studios.get()
        sent_files.take_file(sent=now, at=timezone.now())

    ends = at_once(bring, bring, bring)
    assert ends.count(None) >= 1
    assert all(end is None or isinstance(end, Refused) for end in ends), ends
    assert seen(running) == stored(running) == 3_000
    assert not SentFile.across_studios.exists()


@pytest.mark.django_db(transaction=True)
def test_others_work_while_a_long_file_comes_in(running, cast, signed_in):
    """As nine people would: they look and they write, and nobody is turned away."""
    sent = send(running, log_of(COUNT))
    over = threading.Event()
    codes = []

    def bring():
        try:
            finish = sent_files.bring_in(sent=sent, told=str, at=timezone.now())
            with transaction.atomic():  # As the job that is done with it.
                finish()
        finally:
            over.set()

    def work(browser):
        while not over.is_set() or len(codes) < 20:
            codes.append(browser.get("/").status_code)
            unit = "F" if len(codes) % 2 else "C"
            units = {"temperature_unit": unit, "length_unit": "mm"}
            codes.append(browser.post("/settings/units/", units).status_code)

    roles = ("owner", "maker", "helper", "technician")
    people = [signed_in(role) for role in roles] + [signed_in() for _ in range(5)]
    ends = at_once(bring, *[lambda one=one: work(one) for one in people])
    assert ends == [None] * 10
    assert set(codes) == {200, 302}
    assert seen(running) == COUNT


HEAD = b"Elapsed (s),Temp C\n"
WIDE = b"0,20" + b",1" * 900 + b"\n"
BOMBS = {
    "one line": (b"0,20\n1," + b"9" * 3_000_000, "Line 2 is longer than 20,000"),
    "many rows": (HEAD + b"0,20\n" * 1_000_001, "more than 1,000,000 lines"),
    "many rows, no header": (b"0,20\n" * 1_000_001, "more than 1,000,000 lines"),
    "many cells": (WIDE * 9_000, "more than 4,434 lines of 902 columns"),
    "zeros": (b"\0" * 20_000_000, "This file is empty"),
    "zeros after a row": (HEAD + b"0,20\n" + b"\0" * 20_000_000, "one reading"),
    "zipped": (gzip.compress(b"0,20\n" * 1_000_000), "not a text file"),
    "quotes": (HEAD + (b'"' * 19_999 + b"\n") * 99, "no readings"),
    "all bad": (HEAD + b"0,20\n1,21\n" * 30 + b"x,y\n" * 200_000, "too little is left"),
}


def test_times_made_to_be_left_out_one_by_one_are_refused_after_some_looks():
    year_s, count = 366 * 86_400, 4_000
    rows = [2 * n if n <= count // 2 + 1 else n + year_s + 0.5 for n in range(count)]
    log = "Elapsed (s),Temp C\n" + "".join(f"{at},20\n" for at in rows)
    with pytest.raises(LogProblem, match="times that do not follow"):
        read_log(log.encode(), started_at=START, zone=dt.UTC)


@pytest.mark.parametrize("name", BOMBS)
def test_a_file_made_to_fill_memory_is_refused_in_words(name):
    data, words = BOMBS[name]
    with pytest.raises(LogProblem) as caught:
        read_log(io.BytesIO(data), started_at=START, zone=dt.UTC)
    assert words in str(caught.value)


def test_a_file_larger_than_any_log_is_refused_before_it_is_read():
    with pytest.raises(LogProblem, match=r"has 67\.1 MB; at most"):
        read_log(io.BytesIO(bytes(64 * 1024**2 + 1)), started_at=START, zone=dt.UTC)


MEASURE = """
import datetime as dt, io, resource, sys
from firing.controller_log import LogProblem, read_log
file = open(sys.argv[1], "rb")
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    read_log(file, started_at=dt.datetime(2026, 3, 4, 9, tzinfo=dt.UTC), zone=dt.UTC)
except LogProblem:
    pass
print((resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024)
"""


def memory_mb(path):
    """Return how much memory reading a file took beyond what the program has."""
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, path],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return int(done.stdout)


def stamped(count):
    rows = (
        f"{START + dt.timedelta(seconds=n):%Y-%m-%d %H:%M:%S}" for n in range(count)
    )
    return ("Time,Temp °C\n" + "".join(f"{at},{500.5}\n" for at in rows)).encode()


@pytest.mark.parametrize("name", ["many rows", "many cells", "zeros", "all bad"])
def test_memory_stays_small_whatever_is_sent(name, tmp_path):
    path = tmp_path / "bomb.csv"
    path.write_bytes(BOMBS[name][0])
    assert memory_mb(path) < 300


def test_five_days_at_a_reading_a_second_take_little_memory(tmp_path):
    path = tmp_path / "kiln.csv"
    path.write_bytes(stamped(432_000))
    assert memory_mb(path) < 200


def test_no_field_of_a_form_is_unpacked(running, signed_in):
    """What once carried the file along in the form is nothing any more."""
    browser: Client = signed_in()
    bomb = {"kept_data": "eJzt" * 30_000, "kept": "x" * 900, "kept_name": "../../etc"}
    answer = browser.post(f"/firings/{running.pk}/readings/", bomb)
    assert answer.status_code == 422
    assert stored(running) == 0


def test_a_file_lies_under_a_name_of_ours(running):
    sent = send(running, log_of(10), name="../../../etc/passwd.csv")
    assert sent.file.name.startswith(f"readings/{running.studio_id}/")
    assert "passwd" not in sent.file.name
