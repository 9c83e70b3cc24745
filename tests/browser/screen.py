"""The screens that browser tests use, and what they check on every page."""

import time

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client

from studio.models import Membership
from tests.patience import LONG_S

SIZES = {"phone": (390, 844), "desk": (1280, 900)}
# Each size and each scheme once; the long form has every pair of them.
SCREENS = [
    ("phone", "dark"),
    ("desk", "light"),
    pytest.param("phone", "light", marks=pytest.mark.long),
    pytest.param("desk", "dark", marks=pytest.mark.long),
]
AXE = Axe().axe_script
OPTIONS = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "rules": {"heading-order": {"enabled": True}},
    # What is in order is not gathered, which takes half of the time.
    "resultTypes": ["violations"],
}


def set_up(page, *, size, scheme=None):
    """Give the page one of the sizes, a colour scheme or the browser's own, no motion."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")


def settle(page):
    """Wait until the page and all that it fetches by itself are there."""
    page.wait_for_load_state("load")
    page.wait_for_function(
        "() => !document.querySelector('.htmx-request, .htmx-swapping, .htmx-settling')"
    )


IS_HELD = "() => navigator.serviceWorker.controller !== null"
IS_KEPT = "async (url) => Boolean(await caches.match(url))"


def wait_until_kept(page):
    """Wait until the bench's worker holds the page that is open, and has kept it."""
    page.wait_for_function(IS_HELD)
    page.reload()
    until = time.monotonic() + LONG_S
    while not page.evaluate(IS_KEPT, page.url):
        assert time.monotonic() < until, "the page was not kept"
        page.wait_for_timeout(50)


def faults_of(page):
    """Return what axe-core finds wrong with the page as it stands: rule and elements."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    found = page.evaluate(
        "options => axe.run(document, options).then(done => done.violations)", OPTIONS
    )
    return [(one["id"], [node["html"] for node in one["nodes"]]) for one in found]


def px_too_wide(page):
    """Return by how much the page is wider than its screen; at most 0 is right."""
    return page.evaluate("document.documentElement.scrollWidth - innerWidth")


def enter(page, live_server, studio):
    """Give the browser the session of a studio's owner."""
    owner = Membership.owned.for_studio(studio).get(role="owner").person
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    page.context.add_cookies(
        [
            {
                "name": settings.SESSION_COOKIE_NAME,
                "value": client.cookies[settings.SESSION_COOKIE_NAME].value,
                "url": live_server.url,
            }
        ]
    )
