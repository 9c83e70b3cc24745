"""The timer in a browser: it outlives a closed phone, ticks, and works without scripts."""

import datetime as dt

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from studio.models import TaskTime
from studio.services.task_times import start_timer
from tests import make

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

FINGER_PX = 44


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, layers=6)


def start_on(page, piece):
    page.get_by_role("button", name="Start the timer: Design and separations").click()
    expect(page.get_by_role("complementary", name="Timer")).to_contain_text(piece.title)


def test_a_closed_phone_loses_nothing(visit, piece, live_server, browser, page):
    address = reverse("studio:piece_detail", args=[piece.pk])
    shown, complaints = visit(address, size="phone")
    start_on(shown, piece)
    session = next(
        one
        for one in page.context.cookies()
        if one["name"] == settings.SESSION_COOKIE_NAME
    )
    shown.close()
    TaskTime.across_studios.update(started_at=timezone.now() - dt.timedelta(minutes=75))
    other = browser.new_context(java_script_enabled=False)
    other.add_cookies([session])
    desk = other.new_page()
    desk.goto(live_server.url + reverse("studio:stock"))
    line = desk.get_by_role("complementary", name="Timer")
    expect(line).to_contain_text("1 h 15 min")
    line.get_by_role("button", name="Stop").click()
    expect(line).to_have_count(0)
    expect(desk).to_have_url(live_server.url + reverse("studio:stock"))
    other.close()
    assert TaskTime.across_studios.get().minutes == 75
    assert complaints == []


def test_it_ticks_on_the_page(visit, cast, piece, page):
    start_timer(
        piece=piece,
        task="dams",
        by=cast.maker,
        at=timezone.now() - dt.timedelta(minutes=58),
    )
    page.clock.install()
    shown, complaints = visit(reverse("studio:today"), size="phone")
    ran = shown.locator("[data-timer-minutes]")
    expect(ran).to_have_text("58 min")
    page.clock.fast_forward("02:10")
    expect(ran).to_have_text("1 h")
    page.clock.fast_forward("05:00")
    expect(ran).to_have_text("1 h 5 min")
    assert complaints == []


def test_start_and_stop_are_as_large_as_a_gloved_finger(visit, piece):
    shown, _ = visit(reverse("studio:piece_detail", args=[piece.pk]), size="phone")
    start = shown.get_by_role("button", name="Start the timer: Design and separations")
    assert start.bounding_box()["height"] >= FINGER_PX
    start_on(shown, piece)
    line = shown.get_by_role("complementary", name="Timer")
    for one in (line.get_by_role("button"), line.get_by_role("link")):
        assert one.bounding_box()["height"] >= FINGER_PX
    assert shown.evaluate("document.documentElement.scrollWidth") <= 390
