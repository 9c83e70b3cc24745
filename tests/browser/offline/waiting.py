"""Pages that the phone keeps, and the records that wait on them."""

import re

from playwright.sync_api import expect

from tests.browser.screen import wait_until_kept
from tests.patience import LONG_S

BOX = ".waiting-records"


def held(visit, path):
    """Return a phone's page that the worker holds and has kept."""
    page, _ = visit(path, size="phone")
    wait_until_kept(page)
    return page


def record(page, number):
    """Record one painted layer; offline, the page comes back with it waiting."""
    page.get_by_role("checkbox", name=re.compile(f"Layer {number}\\b")).check()
    page.get_by_role("button", name="Mark as painted").click()


def wait_until_empty(page):
    expect(page.locator(f"{BOX} li")).to_have_count(0, timeout=LONG_S * 1000)
