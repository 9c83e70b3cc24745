"""A signed-in browser, and a way to check any page in any size and scheme."""

import pytest
from django.conf import settings

from tests.browser.answering import Answering
from tests.browser.screen import set_up


@pytest.fixture(autouse=True)
def all_answered(live_server):
    """Let the server answer what was asked before the database is emptied.

    The worker that keeps pages on the phone may have asked for some as its browser
    closed; PostgreSQL ends such a read, or the emptying, as a deadlock.
    """
    with Answering() as answering:
        yield
        answering.wait_until_done()


@pytest.fixture
def sign_in(page, signed_in, live_server):
    """Return a function that gives the browser the session of a role."""

    def sign_in(role):
        session = signed_in(role).cookies[settings.SESSION_COOKIE_NAME].value
        page.context.add_cookies(
            [
                {
                    "name": settings.SESSION_COOKIE_NAME,
                    "value": session,
                    "url": live_server.url,
                }
            ]
        )

    return sign_in


@pytest.fixture
def visit(page, sign_in, live_server):
    """Return a function that opens a path as a maker.

    It gives the page and a list of what the browser complained of, which goes on.
    """
    complaints = []
    page.on(
        "console",
        lambda said: (
            complaints.append(said.text) if said.type in {"error", "warning"} else None
        ),
    )
    page.on("pageerror", lambda error: complaints.append(str(error)))
    sign_in("maker")

    def show(path, *, size="desk", scheme="light"):
        set_up(page, size=size, scheme=scheme)
        page.goto(live_server.url + path)
        return page, complaints

    return show
