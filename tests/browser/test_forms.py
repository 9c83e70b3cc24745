"""Forms in a real browser: pressed twice, sent once."""

import pytest
from django.urls import reverse

from tests.commissions import build

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_button_pressed_twice_sends_its_form_once(cast, page, sign_in, live_server):
    """The payment's form has a field called "method", which hides the form's own."""
    sign_in("owner")
    path = reverse("commissions:payment_new", args=[build.commission(cast).pk])
    page.goto(live_server.url + path)
    page.locator("[name=amount]").fill("25")
    sent = []

    def hold(route):
        """Answer no POST, as a server does that takes its time."""
        if route.request.method == "POST":
            sent.append(route.request.post_data)
        else:
            route.continue_()

    page.route(f"**{path}", hold)
    # Playwright's own click waits for the answer that does not come.
    press = "document.querySelector('main form[method=post] button').click()"
    page.evaluate(
        f"setTimeout(() => {{ {press} }}); setTimeout(() => {{ {press} }}, 200)"
    )
    page.wait_for_timeout(600)
    assert len(sent) == 1
