"""The bench without a connection: kept on the phone, sent once, told in words."""

import re
import time
from threading import Event

import pytest
from django.conf import settings
from django.http import HttpResponse
from playwright.sync_api import expect

from studio import middleware
from studio.http import render_page
from studio.models import SentOnce
from studio.services.layers import record_painted
from studio.views import painting
from tests import make
from tests.browser.offline.waiting import BOX, record, wait_until_empty
from tests.patience import LONG_S

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

KEEP = "url => navigator.serviceWorker.controller.postMessage({ keep: [url] })"
KEPT_PAGES = (
    "async () => (await caches.keys()).filter((one) => one.startsWith('pages-'))"
)


def painted(piece):
    return [one for one in make.passes_of(piece) if one.painted_at]


def test_eight_layers_without_a_connection_are_there_once_afterwards(bench, piece):
    bench.context.set_offline(True)
    tiles = bench.locator("[data-tile] strong").all_inner_texts()
    assert len(tiles) == 8
    for count, name in enumerate(tiles, start=1):
        record(bench, name.split()[1])
        many = "1 record waits" if count == 1 else f"{count} records wait"
        expect(bench.locator(BOX)).to_contain_text(f"{many} for the connection")
        # The page that comes back has nothing ticked; before it is there, none reloads.
        expect(bench.locator("input[name=passes]:checked")).to_have_count(0)
        bench.reload()
    expect(bench.locator(f"{BOX} li")).to_have_count(8)
    assert painted(piece) == []
    bench.context.set_offline(False)
    wait_until_empty(bench)
    assert len(painted(piece)) == 8
    assert SentOnce.objects.count() == 8
    bench.reload()
    expect(bench.locator("main")).to_contain_text("No layer waits for paint")
    assert SentOnce.objects.count() == 8


def test_a_lost_answer_and_two_tabs_record_once(bench, piece, monkeypatch):
    lost = []
    take = middleware.take_once

    def lose_the_first(**given):
        answer = take(**given)
        if not lost:
            lost.append(answer)
            return HttpResponse(status=502)
        return answer

    monkeypatch.setattr(middleware, "take_once", lose_the_first)
    bench.context.set_offline(True)
    record(bench, 2)
    expect(bench.locator(BOX)).to_contain_text("1 record waits")
    bench.context.set_offline(False)
    until = time.monotonic() + LONG_S
    while not lost:
        assert time.monotonic() < until, "nothing was sent"
        bench.wait_for_timeout(50)
    at = painted(piece)[0].painted_at
    other = bench.context.new_page()
    other.goto(bench.url)
    wait_until_empty(bench)
    wait_until_empty(other)
    assert [one.painted_at for one in painted(piece)] == [at]
    assert SentOnce.objects.count() == 1


def test_what_the_server_cannot_save_yet_waits_and_says_so(bench, piece, monkeypatch):
    take = middleware.take_once
    monkeypatch.setattr(
        middleware, "take_once", lambda **given: HttpResponse(status=500)
    )
    bench.context.set_offline(True)
    record(bench, 2)
    expect(bench.locator(BOX)).to_contain_text("1 record waits for the connection")
    bench.context.set_offline(False)
    expect(bench.locator(BOX)).to_contain_text("until the server can save again")
    assert painted(piece) == []
    monkeypatch.setattr(middleware, "take_once", take)
    wait_until_empty(bench)
    assert len(painted(piece)) == 1


def test_what_another_recorded_meanwhile_is_told(bench, piece):
    bench.context.set_offline(True)
    bench.get_by_label("Note").fill("Thin on the left")
    record(bench, 2)
    expect(bench.locator(BOX)).to_contain_text("1 record waits")
    (first,) = (one for one in make.passes_of(piece) if one.sheet.layer.number == 2)
    record_painted(passes=[first], by=None, at=make.NOW)
    bench.context.set_offline(False)
    expect(bench.locator(BOX)).to_contain_text("1 record could not be saved")
    expect(bench.locator(f"{BOX} li")).to_contain_text("Not saved:")
    expect(bench.locator(f"{BOX} li")).to_contain_text("Thin on the left")
    bench.get_by_role("button", name=re.compile("^Dismiss")).click()
    expect(bench.locator(f"{BOX} li")).to_have_count(0)
    assert SentOnce.objects.count() == 0


def test_a_full_phone_says_so_and_the_form_stays(bench, piece, paint):
    devtools = bench.context.new_cdp_session(bench)
    origin = bench.url.removesuffix(paint)
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": origin, "quotaSize": 1})
    bench.context.set_offline(True)
    bench.get_by_label("Note").fill("Thin on the left")
    record(bench, 2)
    expect(bench.get_by_role("alert").first).to_contain_text("no room left")
    expect(bench.get_by_label("Note")).to_have_value("Thin on the left")
    expect(bench.get_by_role("checkbox", name=re.compile("Layer 2"))).to_be_checked()


def test_signing_out_leaves_nothing_on_the_phone(bench, paint):
    bench.context.set_offline(True)
    record(bench, 2)
    expect(bench.locator(BOX)).to_contain_text("1 record waits")
    bench.route("**/token/", lambda route: route.abort())
    asked = []
    bench.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.accept()))
    address = bench.url
    bench.locator("[data-sign-out]").evaluate("form => form.requestSubmit()")
    bench.wait_for_url("**/sign-out/")
    assert bench.evaluate(KEPT_PAGES) == []
    assert asked == ["1 record was not sent. Delete and sign out?"]
    bench.goto(address)
    expect(bench.get_by_role("heading", name="No connection")).to_be_visible()


def test_a_page_that_comes_after_signing_out_is_not_kept(bench, paint, monkeypatch):
    is_asked, may_answer, is_answered = Event(), Event(), Event()

    def slowly(*given, **named):
        answer = render_page(*given, **named)
        is_asked.set()
        may_answer.wait(LONG_S)
        is_answered.set()
        return answer

    monkeypatch.setattr(painting, "render_page", slowly)
    bench.evaluate(KEEP, bench.url)
    assert is_asked.wait(LONG_S)
    bench.locator("[data-sign-out]").evaluate("form => form.requestSubmit()")
    bench.wait_for_url("**/sign-in/**")
    may_answer.set()
    assert is_answered.wait(LONG_S)
    bench.wait_for_timeout(500)
    assert bench.evaluate(KEPT_PAGES) == []


def test_a_session_that_ended_asks_to_sign_in_and_another_person_sees_nothing(
    bench, piece, sign_in
):
    bench.context.set_offline(True)
    record(bench, 2)
    expect(bench.locator(BOX)).to_contain_text("1 record waits")
    bench.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    bench.context.set_offline(False)
    expect(bench.locator(BOX)).to_contain_text("Sign in to send 1 record")
    sign_in("owner")
    bench.reload()
    wait_until_empty(bench)
    assert painted(piece) == []
    sign_in("maker")
    bench.reload()
    until = time.monotonic() + LONG_S
    while not painted(piece):
        assert time.monotonic() < until, "it was not sent"
        bench.wait_for_timeout(50)
    wait_until_empty(bench)
