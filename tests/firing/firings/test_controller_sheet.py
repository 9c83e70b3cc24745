"""The controller sheet: what it says, made once by the worker, read back from the PDF."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from firing.firings import documents
from firing.firings.services import running
from firing.loads.selectors.firings import firings as all_firings
from studio.models import Document, Job, JobState, PaperSize
from studio.pdf import render_pdf
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of
from tests.make import NOW
from tests.papers import needs_pango, read_pdf
from tests.worker import run_waiting_jobs

EVERYBODY = ("owner", "maker", "helper", "technician")
ORIGIN = "https://kilns.example.org"


@pytest.fixture
def planned(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, title="Reed bed")
    firing = build.fuse(piece=piece, kiln=cast.kiln)
    return all_firings(cast.studio).get(pk=firing.pk)


def sheet_of(firing, origin=ORIGIN):
    return documents.controller_sheet(
        firing, path=address("firing_detail", firing.pk), origin=origin
    )


def test_it_says_what_to_type_and_when_each_segment_ends(cast, planned):
    sheet = sheet_of(planned)
    rows = list(planned.schedule.segments.all())
    assert [s.label.lower() for s in sheet.segments] == [r.label for r in rows]
    assert all(s.target.endswith(sheet.unit) for s in sheet.segments)
    assert re.fullmatch(r"\d+:\d\d", sheet.segments[0].hold)
    assert all(re.search(r"\d\d:\d\d$", s.ends) for s in sheet.segments)
    # The controller is started when loading is over.
    began = documents.sheet_viewer(planned).clock(planned.booking.starts_at)
    assert not sheet.starts.endswith(began)
    started = running.start_firing(firing=planned, by=None, at=NOW + timedelta(hours=2))
    again = sheet_of(all_firings(cast.studio).get(pk=started.pk))
    assert again.starts.endswith(
        documents.sheet_viewer(planned).clock(NOW + timedelta(hours=2))
    )
    assert again.sha256 != sheet.sha256


def test_temperatures_are_in_the_controllers_own_unit(cast, planned):
    cast.kiln.controller_unit = "F" if planned.kiln.controller_unit == "C" else "C"
    cast.kiln.save()
    other = sheet_of(all_firings(cast.studio).get(pk=planned.pk))
    assert other.unit != sheet_of(planned).unit
    assert all(s.target.endswith(other.unit) for s in other.segments)


def test_a_kiln_that_cannot_do_it_any_more_gives_no_times(cast, planned):
    cast.kiln.max_temperature_c = 700
    cast.kiln.save()
    sheet = sheet_of(all_firings(cast.studio).get(pk=planned.pk))
    assert [s.ends for s in sheet.segments] == [""] * len(sheet.segments)
    assert "Compute the schedule again" in sheet.note


def test_without_an_address_the_path_stands_in_words(planned):
    sheet = sheet_of(planned, origin="")
    assert sheet.url == ""
    assert documents.sheet_context(planned, sheet)["qr"] == ""


def test_the_code_leads_to_the_firings_page(planned):
    context = documents.sheet_context(planned, sheet_of(planned))
    assert context["qr"].startswith("<svg")
    assert context["paper"].url == ORIGIN + address("firing_detail", planned.pk)


@needs_pango
@pytest.mark.parametrize("count", [3, 7, 8, 13, 16])
@pytest.mark.parametrize("size", PaperSize)
def test_it_is_one_page_and_every_word_is_on_it(planned, count, size):
    sheet = sheet_of(planned)
    segments = tuple(
        replace(sheet.segments[n % len(sheet.segments)], number=n + 1)
        for n in range(count)
    )
    sheet = replace(sheet, segments=segments, size=size)
    pdf = render_pdf(
        documents.TEMPLATE, documents.sheet_context(planned, sheet), title="Sheet"
    )
    pages, words = read_pdf(pdf)
    assert pages == 1
    for said in (sheet.title, sheet.kiln, sheet.starts, sheet.opens, sheet.url):
        assert said in words
    for segment in segments:
        assert segment.ends in words
        assert segment.target in words
    for caution in sheet.cautions:
        assert caution.split(".")[0][:40] in words


@needs_pango
def test_the_worker_makes_it_once(cast, planned, signed_in):
    browser = signed_in("helper")
    url = address("controller_sheet", planned.pk)
    assert "not made yet" in text_of(browser.get(url))
    page = browser.post(url, follow=True)
    assert f'hx-get="{url}"' in page.content.decode()
    browser.post(url)
    assert Job.across_studios.filter(name=documents.RENDER_JOB).count() == 1
    assert run_waiting_jobs() == [JobState.DONE]
    asked = browser.get(url, headers={"HX-Request": "true"})
    assert "is ready" in text_of(asked)
    sent = browser.get(url)
    assert sent["Content-Type"] == "application/pdf"
    pages, words = read_pdf(b"".join(sent.streaming_content))
    assert pages == 1
    assert "Reed bed" in words
    assert "http://testserver" + address("firing_detail", planned.pk) in words
    Job.across_studios.filter(name=documents.RENDER_JOB).update(
        state=JobState.WAITING, attempts=0
    )
    run_waiting_jobs()
    assert Document.across_studios.filter(kind=documents.KIND).count() == 1


def test_a_failed_one_is_made_again_when_asked(planned, signed_in):
    browser = signed_in()
    url = address("controller_sheet", planned.pk)
    browser.post(url)
    Job.across_studios.filter(name=documents.RENDER_JOB).update(
        state=JobState.FAILED, error="No paper."
    )
    assert "No paper." in text_of(browser.get(url))
    assert f'hx-get="{url}"' in browser.post(url, follow=True).content.decode()


def test_the_firings_page_links_to_it(planned, signed_in):
    page = signed_in("helper").get(address("firing_detail", planned.pk))
    assert address("controller_sheet", planned.pk) in page.content.decode()


def test_who_gets_in(planned, client, signed_in, strangers):
    assert_doors(
        url=address("controller_sheet", planned.pk),
        roles=EVERYBODY,
        client=client,
        signed_in=signed_in,
        strangers=strangers,
    )
