"""The bench without a connection, when the phone or the session changes hands."""

import re

import pytest
from django.conf import settings
from django.urls import reverse
from playwright.sync_api import expect

from tests.browser.offline.waiting import BOX, record

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_the_next_person_sees_no_waiting_record_on_a_page_not_kept(
    bench, sign_in, live_server
):
    bench.context.set_offline(True)
    record(bench, 2)
    expect(bench.locator(BOX)).to_contain_text("1 record waits")
    bench.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    bench.context.set_offline(False)
    sign_in("owner")
    bench.goto(live_server.url + "/")
    bench.context.set_offline(True)
    bench.goto(live_server.url + "/stock/")
    expect(bench.get_by_role("heading", name="No connection")).to_be_visible()
    assert bench.locator("body").get_attribute("data-who") is None
    assert bench.locator(f"{BOX} li").count() == 0


def test_a_page_that_leads_elsewhere_is_not_kept_where_it_could_not_come_up(
    bench, live_server
):
    """Fetch standard, "HTTP fetch": a navigation takes no redirected answer."""
    asked = live_server.url + reverse("studio:piece_list").rstrip("/")
    bench.evaluate(
        """async (url) =>
          (await navigator.serviceWorker.ready).active.postMessage({ keep: [url] })""",
        asked,
    )
    # Long enough to keep it: nothing tells that a page is not kept.
    bench.wait_for_timeout(3000)
    bench.context.set_offline(True)
    bench.goto(asked)
    expect(bench.get_by_role("heading", name="No connection")).to_be_visible()


def test_a_form_sent_after_another_person_signed_in_says_so(bench, sign_in):
    bench.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    sign_in("owner")
    record(bench, 2)
    told = bench.get_by_role("alert").filter(has_text="somebody else has signed in")
    expect(told).to_be_visible()
    expect(bench.get_by_role("checkbox", name=re.compile("Layer 2"))).to_be_checked()
