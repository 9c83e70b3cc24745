"""A running firing's page follows its readings without being loaded again."""

import datetime as dt

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from tests.firing.pages import address
from tests.firing.watch.replay import planned_log, pushed, running_fuse, send

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

RECORDED = "svg.chart-wide path.chart-recorded"


def test_new_readings_are_drawn_and_told(cast, visit, page):
    now = timezone.now().replace(microsecond=0)
    firing = running_fuse(cast, started=now - dt.timedelta(hours=6))
    time_s, kiln_c = planned_log(firing)
    early, late = time_s < 3600, time_s < 5 * 3600
    logger = send(firing, pushed(firing, time_s[early], kiln_c[early]), at=now)
    page.clock.install()
    page, complaints = visit(address("firing_detail", firing.pk))
    page.evaluate("window.isTheSamePage = true")
    before = page.locator(RECORDED).first.get_attribute("d")
    facts = page.locator("#firing-sent").inner_text()
    rest = late & ~early
    send(firing, pushed(firing, time_s[rest], kiln_c[rest]), at=now, logger=logger)
    page.clock.fast_forward(61_000)
    expect(page.locator(RECORDED).first).not_to_have_attribute("d", before)
    expect(page.locator("#firing-sent")).not_to_have_text(facts)
    assert page.evaluate("window.isTheSamePage")
    assert complaints == []
