"""A controller's file on its page: read, asked about, refused line by line, removed."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from firing.firings.services.running import start_firing
from firing.models import Reading, ReadingImport
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of

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


def test_what_the_file_does_not_say_is_asked_and_the_file_kept(
    cast, signed_in, running
):
    browser = signed_in()
    answer = send(browser, running, UNSAID)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert 'name="unit"' in html
    assert 'name="elapsed_unit"' in html
    assert 'name="date_order"' not in html
    assert count(cast) == 0
    form = answer.context["form"]
    again = browser.post(
        address("readings_import", running.pk),
        {
            "kept_data": form["kept_data"].value(),
            "kept_name": form["kept_name"].value(),
            "unit": "F",
            "elapsed_unit": "min",
        },
    )
    assert again.status_code == 302
    assert count(cast) == 3
    assert ReadingImport.owned.for_studio(cast.studio).get().file_name == "kiln.csv"


def test_bad_lines_are_listed_by_number(cast, signed_in, running):
    lines = ["Elapsed (min),Temp °C", *(f"{n},{20 + n}" for n in range(50))]
    lines += [f"{50 + n},x{n}" for n in range(30)]
    answer = send(signed_in(), running, "\n".join(lines))
    assert answer.status_code == 422
    page = text_of(answer)
    assert "The first 20 of 30 lines" in page
    assert " 52 'x0' is not a temperature" in page
    assert count(cast) == 0


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
        {"kept_data": "not base 85 \x7f", "kept_name": "a"},
        {"kept_data": "0000000", "kept_name": "a"},
        {"file": SimpleUploadedFile("a.csv", b"\x00\x01\x02" * 99)},
        {"file": SimpleUploadedFile("a.csv", GOOD.encode()), "unit": "K"},
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
