"""The style guide in a real browser: nothing blocked, nothing too wide, axe satisfied."""

import pytest
from django.urls import reverse

from tests.browser.screen import SCREENS, faults_of, px_too_wide

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def guide(visit):
    """Return a function that opens the style guide, and what the browser complained of."""

    def show(**how):
        return visit(reverse("studio:styleguide"), **how)

    return show


@pytest.mark.parametrize(("size", "scheme"), SCREENS)
def test_the_look_is_accessible_and_fits(guide, screenshot, size, scheme):
    page, complaints = guide(size=size, scheme=scheme)
    assert faults_of(page) == []
    assert complaints == []
    assert px_too_wide(page) <= 0
    screenshot(f"style-guide-{size}-{scheme}")


def test_the_places_are_finger_sized_on_a_phone(guide):
    page, _ = guide(size="phone")
    boxes = [link.bounding_box() for link in page.locator(".places a").all()]
    assert len(boxes) == 5
    for box in boxes:
        assert box["width"] >= 44
        assert box["height"] >= 44
    # The bar lies under the thumb, at the lower edge of the screen.
    assert boxes[0]["y"] + boxes[0]["height"] == pytest.approx(844, abs=1)


def test_the_theme_switch_is_kept(guide):
    page, _ = guide()
    ground = "getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(ground)
    page.click(".studio-menu summary")
    page.click("[data-theme-choice=dark]")
    dark = page.evaluate(ground)
    assert dark != light
    page.reload()
    assert page.evaluate(ground) == dark
    page.click(".studio-menu summary")
    page.click("[data-theme-choice=system]")
    assert page.evaluate(ground) == light


def test_bands_and_bookings_are_reached_by_keyboard_and_show_it(guide):
    page, _ = guide()
    for drawing in (".edge-view", ".ribbon"):
        link = page.locator(f"{drawing} a.drawing-link").first
        link.focus()
        page.keyboard.press("Tab")
        page.keyboard.press("Shift+Tab")
        ring = link.locator(".drawing-ring")
        assert ring.evaluate("ring => getComputedStyle(ring).strokeWidth") == "3px"
        assert ring.evaluate("ring => getComputedStyle(ring).stroke") != "none"


def test_escape_closes_the_studios_menu(guide):
    page, _ = guide()
    page.click(".studio-menu summary")
    assert page.locator(".studio-menu").get_attribute("open") is not None
    page.keyboard.press("Escape")
    assert page.locator(".studio-menu").get_attribute("open") is None
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_prices_use_the_width_of_a_phone_and_name_their_total(guide):
    page, _ = guide(size="phone")
    table = page.locator(".theme-sample .money-table, .money-table").first
    width = table.bounding_box()["width"]
    label = table.locator("tbody th[scope=row]").first.bounding_box()
    amount = table.locator("tbody td.figure:visible").first.bounding_box()
    assert label["width"] + amount["width"] == pytest.approx(width, abs=2)
    total = table.locator("tfoot tr").last
    assert "Total" in total.aria_snapshot()


def test_rows_of_a_stacked_table_begin_at_one_edge_on_a_phone(guide):
    page, _ = guide(size="phone")
    paddings = page.eval_on_selector_all(
        ".table-stacked td[data-label]",
        "cells => cells.map(cell => getComputedStyle(cell).paddingInlineStart)",
    )
    assert set(paddings) == {"0px"}
