"""The kilns' week for the wall: what it says per day, made once, read back from the PDF."""

import datetime as dt
import io
from dataclasses import replace
from zoneinfo import ZoneInfo

import pypdf
import pytest
from django.utils import timezone

from firing.firings.services import firings, running
from firing.kiln_time import week_sheet
from firing.kiln_time.selectors.week import monday_of, week_of
from studio.models import Closure, Document, Job, JobState
from studio.pdf import render_pdf
from tests import make
from tests.firing import build
from tests.firing.pages import address, assert_doors, text_of
from tests.make import NOW
from tests.papers import needs_pango, read_pdf
from tests.worker import run_waiting_jobs

EVERYBODY = ("owner", "maker", "helper", "technician")
HOUR = dt.timedelta(hours=1)
MONDAY = monday_of(NOW.date())


def local(day, hour, minute=0):
    """Return an instant by the studio's clock; days count from the Monday."""
    zone = ZoneInfo("America/New_York")
    date = MONDAY + dt.timedelta(days=day)
    return dt.datetime.combine(date, dt.time(hour, minute), tzinfo=zone).astimezone(
        dt.UTC
    )


def lines(cast, name, day):
    week = week_of(cast.viewer(), MONDAY, NOW)
    (kiln,) = [kiln for kiln in week.kilns if kiln.name == name]
    return [f"{one.clock} {one.what}: {one.text}" for one in kiln.days[day]]


@pytest.fixture
def enamel(cast):
    """Loaded on Thursday morning at eight, cold before anybody is in on Friday."""
    return build.enamel(kiln=cast.kiln, glass=cast.glass, starts_at=local(3, 8))


def test_it_says_what_to_load_and_when_to_start(cast, enamel):
    enamel.booking.booked_by = cast.maker
    enamel.booking.save()
    (line,) = lines(cast, cast.kiln.name, 3)
    assert line == (
        "08:00 Load: Enamel: Ebb 1, 2. Start the controller 08:30. "
        f"Booked by {cast.maker}."
    )


def test_unloading_waits_until_somebody_is_in(cast, enamel):
    (line,) = lines(cast, cast.kiln.name, 4)
    assert line.startswith("08:00 Unload: Cold Fri 06:")
    assert "not before 08:00, below 122 °F" in line
    sunday = build.enamel(
        kiln=make.kiln(studio=cast.studio, name="Other"),
        glass=cast.glass,
        starts_at=local(6, 8),
        title="Flood",
    )
    assert sunday.booking.opens_at < local(7, 8)
    week = week_of(cast.viewer(), MONDAY + dt.timedelta(days=7), NOW)
    (other,) = [kiln for kiln in week.kilns if kiln.name == "Other"]
    assert [one.what for one in other.days[0]] == ["Unload"]


def test_a_hot_kiln_is_to_be_kept_closed_day_by_day(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=12)
    fuse = build.fuse(piece=piece, kiln=cast.kiln, starts_at=local(0, 9))
    told = [lines(cast, cast.kiln.name, day) for day in range(7)]
    assert told[0][0].startswith("09:00 Load: Full fuse and anneal: Reed bed.")
    assert "Start the controller 10:00" in told[0][0]
    opened = (fuse.booking.opens_at.astimezone(ZoneInfo("America/New_York"))).weekday()
    assert all(
        told[day][0].startswith(" Keep closed: Hot until") for day in range(1, opened)
    )
    running.start_firing(firing=fuse, by=cast.helper, at=local(0, 11))
    (line,) = lines(cast, cast.kiln.name, 0)
    assert line.startswith("11:00 Started: Full fuse and anneal: Reed bed by ")


def test_provisional_rented_and_closed_times_are_told(cast):
    kept = build.booking(
        kiln=cast.kiln, starts_at=local(1, 20), hours=28, title="Bowls of Odo"
    )
    other = make.kiln(studio=cast.studio, name="Other")
    Closure.across_studios.create(
        studio=cast.studio,
        kiln=other,
        starts_at=local(2, 8),
        ends_at=local(4, 0),
        reason="New elements",
    )
    assert lines(cast, cast.kiln.name, 1) == [
        "20:00 Rented out: Bowls of Odo, until Thu 00:00."
    ]
    assert lines(cast, cast.kiln.name, 2) == [
        " Rented out: Bowls of Odo, until Thu 00:00."
    ]
    assert lines(cast, cast.kiln.name, 3) == [], "midnight belongs to the day before"
    assert kept.pk
    for day, count in ((1, 0), (2, 1), (3, 1), (4, 0)):
        assert len(lines(cast, "Other", day)) == count
    assert "New elements, until Fri 6 Mar 00:00." in lines(cast, "Other", 2)[0]


def test_the_same_rows_give_the_same_words_and_a_change_gives_others(cast, enamel):
    first = week_sheet.week_sheet(cast.studio, MONDAY, NOW)
    assert week_sheet.week_sheet(cast.studio, MONDAY, NOW).sha256 == first.sha256
    enamel.booking.is_provisional = True
    enamel.booking.save()
    second = week_sheet.week_sheet(cast.studio, MONDAY, NOW)
    assert second.sha256 != first.sha256
    assert "(provisional)" in str(second.kilns)


@needs_pango
@pytest.mark.parametrize("is_letter", [True, False])
def test_it_is_one_landscape_page_with_every_word(cast, enamel, is_letter):
    for name in ("Heron", "Curlew", "Teal"):
        kiln = make.kiln(studio=cast.studio, name=name)
        build.enamel(
            kiln=kiln, glass=cast.glass, starts_at=local(1, 9), title=f"Tide {name}"
        )
    sheet = replace(
        week_sheet.week_sheet(cast.studio, MONDAY, NOW), is_letter=is_letter
    )
    context = week_sheet.sheet_context(cast.studio, sheet, MONDAY, NOW)
    pdf = render_pdf(week_sheet.TEMPLATE, context, title=sheet.title)
    (page,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
    points = (792, 612) if is_letter else (842, 595)
    assert [round(side) for side in (page.mediabox.width, page.mediabox.height)] == [
        *points
    ]
    _, words = read_pdf(pdf)
    for said in (sheet.title, "Mon 2 Mar", "08:00 to 20:00", "Heron", *sheet.cautions):
        assert said[:40] in words
    for kiln in sheet.kilns:
        for day in kiln.days:
            for line in day:
                assert f"{line.clock} {line.what}".strip() in words


@needs_pango
def test_the_worker_makes_it_once_and_again_when_the_week_changes(
    cast, signed_in, enamel
):
    browser = signed_in("helper")
    url = f"{address('week_sheet')}?from={MONDAY + dt.timedelta(days=2)}"
    assert "not made yet" in text_of(browser.get(url))
    assert "is being made" in text_of(browser.post(url, follow=True))
    browser.post(url)
    assert Job.across_studios.filter(name=week_sheet.RENDER_JOB).count() == 1
    assert run_waiting_jobs() == [JobState.DONE]
    assert "is ready" in text_of(browser.get(url, headers={"HX-Request": "true"}))
    sent = browser.get(url)
    assert sent["Content-Type"] == "application/pdf"
    _, words = read_pdf(b"".join(sent.streaming_content))
    assert "Ebb" in words
    firings.cancel_firing(firing=enamel, reason="", by=None, at=NOW)
    assert "is being made" in text_of(browser.post(url, follow=True))
    run_waiting_jobs()
    assert Document.across_studios.filter(kind=week_sheet.KIND).count() == 2


def test_a_failed_one_is_made_again_when_asked(cast, signed_in):
    browser, url = signed_in(), address("week_sheet")
    browser.post(url)
    Job.across_studios.filter(name=week_sheet.RENDER_JOB).update(
        state=JobState.FAILED, error="No paper."
    )
    assert "No paper." in text_of(browser.get(url))
    browser.post(url)
    assert "is being made" in text_of(browser.get(url))


def test_one_that_waits_for_a_full_disk_says_so(cast, signed_in):
    browser, url = signed_in(), address("week_sheet")
    browser.post(url)
    Job.across_studios.update(progress="The disk is full")
    assert "is being made. The disk is full." in text_of(browser.get(url))


@pytest.mark.parametrize("day", ["", "soon", "0001-01-01", "9999-12-31"])
def test_a_nonsense_day_is_this_week(cast, signed_in, day):
    page = text_of(signed_in().get(address("week_sheet"), {"from": day}))
    monday = monday_of(timezone.now().astimezone(cast.viewer().zone).date())
    assert f"The kilns, {monday:%-d %b} to" in page


def test_the_kilns_page_leads_to_it(cast, signed_in):
    page = signed_in("helper").get(address("kiln_list")).content.decode()
    assert f'action="{address("week_sheet")}?from=' in page


def test_doors(client, cast, signed_in, strangers):
    assert_doors(
        client=client,
        signed_in=signed_in,
        strangers=strangers,
        url=address("week_sheet"),
        roles=EVERYBODY,
        own=False,
    )
