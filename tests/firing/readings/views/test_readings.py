"""A controller's file on its page: read, asked about, refused line by line, removed."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from firing.firings.services.running import start_firing
from firing.models import Reading, ReadingImport, SentFile
from firing.readings.services import sent_files
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of
from tests.worker import run_waiting_jobs

EVERYBODY = ("owner", "maker", "helper", "technician")
GOOD = "Elapsed (min);Temp °F\n0;68\n30;212\n60;392\n"
UNSAID = "Elapsed,Temp\n0,68\n30,212\n60,392\n"


@pytest.fixture
def running(cast):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=timezone.now())
    return start_firing(firing=firing, by=None, at=timezone.now())


def send(browser, firing, text, **more):
    data = {"file": SimpleUploadedFile("kiln.csv", text.encode()), **more}
    return browser.post(address("readings_import", firing.pk), data)


def count(cast):
    return Reading.owned.for_studio(cast.studio).count()


def test_a_file_is_read_and_shown(cast, signed_in, running):
    browser = signed_in("helper")
    answer = send(browser, running, GOOD)
    assert answer["Location"] == address("firing_detail", running.pk)
    assert count(cast) == 3
    page = browser.get(address("firing_detail", running.pk))
    assert "3 readings" in text_of(page)
    assert "392 °F" in text_of(page)
    assert 'class="chart-recorded"' in page.content.decode()


def test_at_first_only_the_file_is_asked_for(signed_in, running):
    html = signed_in().get(address("readings_import", running.pk)).content.decode()
    assert 'name="file"' in html
    assert 'name="unit"' not in html
    assert 'name="elapsed_unit"' not in html


def asked_about(browser, firing, text):
    """Send a file and return the page that asks about it."""
    sent = send(browser, firing, text)
    assert sent.status_code == 302
    return browser.get(sent["Location"])


def answer(browser, page, **answers):
    """Answer the page that asks about a file, with what it carries unseen."""
    form = page.context["form"]
    carried = {f.name: f.value() or "" for f in form if f.is_hidden}
    return browser.post(page.context["address"], carried | answers)


def test_what_the_file_does_not_say_is_asked_and_the_file_kept(
    cast, signed_in, running
):
    browser = signed_in()
    asked = asked_about(browser, running, UNSAID)
    html = asked.content.decode()
    assert html.count('type="radio" name="unit"') == 2
    assert html.count('type="radio" name="elapsed_unit"') == 3
    assert 'type="radio" name="date_order"' not in html
    assert "(68 to 392)" in text_of(asked)
    assert count(cast) == 0
    again = answer(browser, asked, unit="F", elapsed_unit="min")
    assert again.status_code == 302
    assert count(cast) == 3
    assert ReadingImport.owned.for_studio(cast.studio).get().file_name == "kiln.csv"


def test_one_answer_of_two_is_kept_while_the_other_is_asked(cast, signed_in, running):
    browser = signed_in()
    asked = asked_about(browser, running, UNSAID)
    again = answer(browser, asked, unit="F")
    assert again.status_code == 422
    assert "Choose one of these." in text_of(again)
    assert again.context["form"]["unit"].value() == "F"
    done = answer(browser, again, unit="F", elapsed_unit="min")
    assert done.status_code == 302
    assert count(cast) == 3


BAD = ["Elapsed (min),Temp °C", *(f"{n},{20 + n}" for n in range(50))]


def test_bad_lines_are_left_out_with_one_tap_and_the_file_is_sent_once(
    cast, signed_in, running
):
    browser = signed_in("helper")
    lines = [*BAD, "50,ERR", "51,90", "52,----"]
    asked = asked_about(browser, running, "\n".join([*lines, "53,91\n"]))
    page = text_of(asked)
    assert " 52 'ERR' is not a temperature" in page
    assert "Leave out these 2 lines and import" in page
    assert "Highest 196 °F" in page, "what is left can be judged before it is taken"
    assert count(cast) == 0
    answer(browser, asked)
    assert count(cast) == 52
    firing_page = text_of(browser.get(address("firing_detail", running.pk)))
    assert firing_page.count("Left out: lines 52, 54.") == 2, "said now, and kept said"


def test_us_dates_an_f_in_the_header_and_one_err_need_one_tap(cast, signed_in):
    """10/11/2026 may be in October or in November; the firing was in October."""
    began = datetime(2026, 10, 11, 20, 0, tzinfo=UTC)
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=began)
    firing = start_firing(firing=firing, by=None, at=began)
    zone = ZoneInfo(cast.studio.time_zone)
    moments = [(began + timedelta(minutes=n)).astimezone(zone) for n in range(2514)]
    rows = [
        f"{at:%m/%d/%Y},{at:%I:%M:%S %p},{70 + n // 2},{71 + n // 2}"
        for n, at in enumerate(moments)
        # Until midnight of the next day but one, so that no date tells the month.
        if at.day <= 12
    ]
    rows[700] = f"{rows[700].rpartition(',')[0].rpartition(',')[0]},ERR,400"
    browser = signed_in("helper")
    header = "Date,Time,Temp (F),Set Point (F)\r\n"
    asked = asked_about(browser, firing, header + "\r\n".join([*rows, ""]))
    page = text_of(asked)
    assert "702 'ERR' is not a temperature" in page
    assert 'type="radio"' not in asked.content.decode()
    assert answer(browser, asked).status_code == 302
    source = ReadingImport.owned.for_studio(cast.studio).get()
    assert source.first_at == began
    assert source.row_count == len(rows) - 1


def test_two_tabs_that_leave_the_same_lines_out_import_once(cast, signed_in, running):
    browser = signed_in()
    asked = asked_about(browser, running, "\n".join([*BAD, "50,ERR", "51,90\n"]))
    for _ in range(2):
        assert answer(browser, asked)["Location"] == address(
            "firing_detail", running.pk
        )
    assert count(cast) == 51


def test_lines_that_were_not_shown_are_not_left_out(cast, signed_in, running):
    browser = signed_in()
    asked = asked_about(browser, running, "\n".join([*BAD, "50,ERR", "51,90\n"]))
    again = answer(browser, asked, leave_out="7")
    assert "Leave out this line" in text_of(browser.get(again["Location"]))
    assert count(cast) == 0


def test_many_bad_lines_are_counted_and_the_first_twenty_told(signed_in, running):
    lines = [*BAD, *(f"{50 + n},x{n}" for n in range(30)), "90,90\n"]
    page = text_of(asked_about(signed_in(), running, "\n".join(lines)))
    assert "The first 20 of 30 lines" in page
    assert "Leave out these 30 lines" in page


def test_a_file_that_is_mostly_bad_is_not_offered(signed_in, running):
    good, bad = (f"{n},2{n}" for n in range(6)), (f"{n},x" for n in range(6, 13))
    lines = ["Elapsed (min),Temp °C", *good, *bad, ""]
    page = text_of(send(signed_in(), running, "\n".join(lines)))
    assert "7 lines cannot be read, and too little is left" in page
    assert " 8 'x' is not a temperature" in page
    assert "Leave out" not in page


def test_a_sent_file_is_its_firings_alone_and_goes_after_a_week(
    cast, signed_in, running, django_capture_on_commit_callbacks
):
    browser = signed_in()
    asked = asked_about(browser, running, UNSAID)
    kiln = make.kiln(studio=cast.studio, name="Heron")
    other = build.enamel(kiln=kiln, glass=cast.glass, starts_at=timezone.now())
    sent = SentFile.owned.for_studio(cast.studio).get()
    elsewhere = browser.get(address("readings_sent", other.pk, sent.pk))
    assert elsewhere["Location"] == address("firing_detail", other.pk)
    path = Path(sent.file.path)
    with django_capture_on_commit_callbacks(execute=True):
        assert not sent_files.forget_sent(timezone.now())
        assert path.exists()
        assert sent_files.forget_sent(timezone.now() + timedelta(days=8)) == 1
    assert not path.exists()
    late = answer(browser, asked, unit="F", elapsed_unit="min")
    assert late["Location"] == address("firing_detail", running.pk)
    assert count(cast) == 0


def test_a_sent_file_is_taken_away(cast, signed_in, running):
    browser = signed_in("helper")
    asked_about(browser, running, UNSAID)
    sent = SentFile.owned.for_studio(cast.studio).get()
    page = text_of(browser.get(address("firing_detail", running.pk)))
    assert "kiln.csv Waits for your answer." in page
    gone = browser.post(address("readings_sent_drop", running.pk, sent.pk), follow=True)
    assert "kiln.csv is taken away. Nothing was imported." in text_of(gone)
    assert "Waits for your answer" not in text_of(gone)


def test_a_firing_keeps_a_few_files_that_wait(signed_in, running):
    browser = signed_in()
    for number in range(sent_files.MOST_OPEN):
        asked_about(browser, running, f"{UNSAID}{61 + number},393\n")
    refused = send(browser, running, f"{UNSAID}70,393\n")
    assert refused.status_code == 409
    assert "5 files of this firing are not read in yet" in text_of(refused)


LONG = "Elapsed (s),Temp °C\n" + "".join(f"{n},{20 + n / 9:.1f}\n" for n in range(900))


@pytest.fixture
def worker_reads(monkeypatch):
    """Have the worker read what would else be read at once."""
    monkeypatch.setattr(sent_files, "READ_AT_ONCE_BYTES", 1000)


def test_a_long_file_is_read_by_the_worker_and_shows_how_far_it_is(
    cast, signed_in, running, worker_reads
):
    browser = signed_in()
    page = asked_about(browser, running, LONG)
    url = page.context["address"]
    assert "It is read as soon as a worker is free. You can leave" in text_of(page)
    part = browser.get(url, headers={"HX-Request": "true"})
    assert part.content.decode().count("<html") == 0
    assert count(cast) == 0
    assert run_waiting_jobs()[0] == "done"
    assert count(cast) == 900
    there = browser.get(url, headers={"HX-Request": "true"})
    assert there["HX-Redirect"] == address("firing_detail", running.pk)
    assert browser.get(url)["Location"] == address("firing_detail", running.pk)


def test_a_long_file_is_asked_about_and_then_read(
    cast, signed_in, running, worker_reads
):
    browser = signed_in()
    page = asked_about(browser, running, LONG.replace(" °C", ""))
    run_waiting_jobs()
    part = browser.get(page.context["address"], headers={"HX-Request": "true"})
    assert part["HX-Refresh"] == "true"
    asked = browser.get(page.context["address"])
    assert 'type="radio" name="unit"' in asked.content.decode()
    reads = answer(browser, asked, unit="C")
    assert "as soon as a worker" in text_of(browser.get(reads["Location"]))
    run_waiting_jobs()
    assert count(cast) == 900


def test_a_long_file_that_is_no_log_says_so_and_stays_until_taken_away(
    cast, signed_in, running, worker_reads
):
    browser = signed_in()
    page = asked_about(browser, running, "x,y\n" * 900)
    run_waiting_jobs()
    told = browser.get(page.context["address"])
    assert "No column of times was found" in text_of(told)
    assert "Read it again" in text_of(told)
    assert count(cast) == 0


def test_a_last_line_cut_short_is_left_out_with_a_word(cast, signed_in, running):
    browser = signed_in()
    done = send(browser, running, "Elapsed (min),Temp °C\n0,20\n1,21\n2,22\n3,")
    assert done.status_code == 302
    page = text_of(browser.get(done["Location"]))
    assert "Left out: the last line, which is cut short." in page
    assert count(cast) == 3


def test_the_same_file_twice_is_refused(cast, signed_in, running):
    browser = signed_in()
    send(browser, running, GOOD)
    answer = send(browser, running, GOOD)
    assert answer.status_code == 409
    assert "here already" in text_of(answer)
    assert count(cast) == 3


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"file": SimpleUploadedFile("a.csv", b"")},
        {"file": "not a file \x7f"},
        {"file": SimpleUploadedFile("a.csv", b"\x00\x01\x02" * 99)},
    ],
)
def test_nonsense_is_said_and_nothing_is_read(cast, signed_in, running, data):
    for upload in data.values():
        if not isinstance(upload, str):
            upload.seek(0)
    answer = signed_in().post(address("readings_import", running.pk), data)
    assert answer.status_code == 422
    assert "Nothing was imported yet" in text_of(answer)
    assert count(cast) == 0


def test_an_answer_that_makes_no_sense_is_asked_again(cast, signed_in, running):
    browser = signed_in()
    asked = asked_about(browser, running, UNSAID)
    again = answer(browser, asked, unit="K", elapsed_unit="min")
    assert again.status_code == 422
    assert again.content.decode().count('type="radio" name="unit"') == 2
    assert count(cast) == 0


def test_a_firing_not_started_takes_no_file(cast, signed_in):
    firing = build.enamel(kiln=cast.kiln, glass=cast.glass)
    answer = send(signed_in(), firing, GOOD)
    assert answer.status_code == 409
    assert "not started" in text_of(answer)


def test_a_file_is_removed(cast, signed_in, running):
    browser = signed_in("helper")
    send(browser, running, GOOD)
    source = ReadingImport.owned.for_studio(cast.studio).get()
    answer = browser.post(address("readings_remove", source.pk))
    assert answer["Location"] == address("firing_detail", running.pk)
    assert count(cast) == 0


def test_doors(client, cast, signed_in, strangers, running):
    common = {"client": client, "signed_in": signed_in, "strangers": strangers}
    url = address("readings_import", running.pk)
    assert_doors(url=url, roles=EVERYBODY, **common)
    assert_doors(url=url, roles=EVERYBODY, post=True, **common)
    send(signed_in(), running, GOOD)
    source = ReadingImport.owned.for_studio(cast.studio).get()
    remove = address("readings_remove", source.pk)
    assert_doors(url=remove, roles=EVERYBODY, post=True, **common)
    assert signed_in().get(remove).status_code == 405
