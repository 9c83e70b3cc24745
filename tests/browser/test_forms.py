"""Forms in a real browser: pressed twice, sent once; a choice that proposes the rest."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from tests.browser.screen import px_too_wide, settle
from tests.commissions import build

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


# What the bench's worker sends passes by the route that counts below.
@pytest.mark.browser_context_args(service_workers="block")
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


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_new_sheets_family_proposes_what_it_is_fired_at(cast, visit, size):
    page, complaints = visit(reverse("studio:glass_new"), size=size)
    page.locator("[name=name]").fill("Shore float")
    page.locator("[name=enamel_c]").fill("1080")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    for family, fuse in (("float", "1621 °F"), ("96-expansion", "1500 °F")):
        page.locator("[name=family]").focus()
        page.locator("[name=family]").select_option(family)
        page.wait_for_function(
            "fuse => document.querySelector('[name=full_fuse_c]').value === fuse",
            arg=fuse,
        )
        settle(page)
        assert page.locator("[name=family]").input_value() == family
    assert page.locator("[name=name]").input_value() == "Shore float"
    assert page.locator("[name=enamel_c]").input_value() == "1080", "typed, so kept"
    assert page.evaluate("document.activeElement.name") == "family"
    assert px_too_wide(page) <= 0
    assert not complaints
    assert asked
    assert not any("csrf" in url for url in asked)


def test_a_fold_in_a_price_stays_open_and_in_focus_while_it_is_worked_out(cast, visit):
    commission = build.commission(cast)
    page, _ = visit(reverse("commissions:quote_new", args=[commission.pk]))
    settle(page)
    fold = page.locator("#price-lines")
    total = page.locator("#price .price-total")
    before = total.inner_text()
    fold.locator("summary").press("Enter")
    page.get_by_text("Rates, discount, kilns, tax").press("Enter")
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        page.locator("[name=markup_percent]").fill("77")
        fold.locator("summary").focus()
    expect(total).not_to_have_text(before)
    settle(page)
    expect(fold).to_have_attribute("open", "")
    expect(fold.locator("summary")).to_be_focused()
