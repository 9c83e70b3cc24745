"""Every page of the demo, and of a studio with nothing in it yet: readable by anybody.

Each is loaded once: axe on a phone and on a desk, with letters of twice the size, and as
narrow as 320 px. Of the seven screens that carry the work it keeps a picture in both.
"""

import pytest
from django.urls import resolve, reverse

from commissions.models import ShareLink
from commissions.selectors.share_links import link_token
from studio.models import Piece
from tests.browser.crawl import pages
from tests.browser.screen import SIZES, enter, faults_of, px_too_wide, set_up
from tests.worker import run_waiting_jobs

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SEVEN = {
    "studio:today": "today",
    "studio:piece_detail": "piece",
    "firing:fuse_plan": "schedule",
    "firing:firing_judgement": "verdict",
    "firing:kiln_list": "kilns",
    "firing:firing_list": "firings",
    "commissions:shared_page": "client",
}
# Links in sentences, and those of which the whole row is the target, are smaller.
TARGETS = "button, .button, summary, select, .link-line, .facts dd > a, .history a"
TOO_SMALL = """
targets => targets
    .filter(one => one.checkVisibility() && one.getBoundingClientRect().width > 1)
    .filter(one => one.getBoundingClientRect().height < 43.5)
    .map(one => one.outerHTML.slice(0, 120))
"""


@pytest.fixture
def look_at(page, screenshot):
    """Return a function that says what is wrong with the page in the browser."""
    cdp = page.context.new_cdp_session(page)

    def letters(px):
        cdp.send("Page.setFontSizes", {"fontSizes": {"standard": px, "fixed": px}})
        page.wait_for_function(
            "px => getComputedStyle(document.documentElement).fontSize === `${px}px`",
            arg=px,
        )

    def look(path):
        found, name = [], SEVEN.get(resolve(path.partition("?")[0]).view_name)
        for size, (width, height) in SIZES.items():
            page.set_viewport_size({"width": width, "height": height})
            found += [(size, *fault) for fault in faults_of(page)]
            if size == "phone":
                small = page.eval_on_selector_all(TARGETS, TOO_SMALL)
                found += [("smaller than a finger", one) for one in small]
            if name:
                screenshot(f"seven-{name}-{width}")
        letters(32)
        if (over := px_too_wide(page)) > 0:
            found.append(("letters doubled", f"{over} px too wide"))
        letters(16)
        page.set_viewport_size({"width": 320, "height": 700})
        if (over := px_too_wide(page)) > 0:
            found.append(("320 px", f"{over} px too wide"))
        return found

    return look


def wrong_pages(page, base, starts, look_at):
    """Return what is wrong on one page of every kind, by its path."""
    set_up(page, size="phone")
    return {
        path: faults for path in pages(page, base, starts) if (faults := look_at(path))
    }


def test_every_page_of_the_demo(demo, page, live_server, look_at):
    run_waiting_jobs()
    run_waiting_jobs()
    enter(page, live_server, demo)
    piece = Piece.owned.for_studio(demo).get(title="Spring tide at the sluice")
    starts = [
        reverse("studio:today"),
        reverse("studio:piece_detail", args=[piece.pk]),
        *(
            reverse("commissions:shared_page", args=[link_token(link)])
            for link in ShareLink.owned.for_studio(demo)
        ),
    ]
    assert wrong_pages(page, live_server.url, starts, look_at) == {}


def test_every_page_of_a_studio_with_nothing_in_it_yet(
    cast, page, live_server, look_at
):
    cast.kiln.delete()
    cast.glass.delete()
    enter(page, live_server, cast.studio)
    starts = [reverse("studio:today")]
    assert wrong_pages(page, live_server.url, starts, look_at) == {}
