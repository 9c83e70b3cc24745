"""The page of a schedule in a real browser: how long it is, and choosing by hand.

With a stack of twenty layers and for glass that is no piece, by keyboard, and without
scripts.
"""

import re

import pytest
from django.urls import reverse

from tests.browser.screen import SCREENS, SIZES, faults_of, px_too_wide, settle
from tests.firing import build

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TALLEST_ON_A_PHONE = 3200
# The bar of places covers the lower edge of a phone.
LOWEST_BUTTON = {"phone": 844 - 64, "desk": 900}


@pytest.fixture
def of_a_piece(cast):
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=20)
    return reverse("firing:fuse_plan", args=[piece.pk])


@pytest.fixture
def of_any_glass(cast):
    return reverse("firing:schedule_designer")


def wait_for_answer(page):
    page.locator("#cut-grip:visible").wait_for()
    settle(page)


def height_of(page):
    return page.evaluate("document.documentElement.scrollHeight")


@pytest.mark.parametrize("address", ["of_a_piece", "of_any_glass"])
@pytest.mark.parametrize(("size", "scheme"), SCREENS)
def test_the_answer_comes_first_and_the_page_is_short(
    visit, screenshot, request, address, size, scheme
):
    path = request.getfixturevalue(address)
    page, complaints = visit(path, size=size, scheme=scheme)
    wait_for_answer(page)
    assert faults_of(page) == []
    assert px_too_wide(page) <= 0
    button = page.locator("main .button-main:visible")
    assert button.count() == 1
    box = button.bounding_box()
    assert box["y"] + box["height"] <= LOWEST_BUTTON[size]
    if size == "phone":
        assert height_of(page) < TALLEST_ON_A_PHONE
        for choice in page.locator(".choice label").all():
            assert choice.bounding_box()["height"] >= 44
    assert complaints == []
    screenshot(f"schedule-{address}-{size}-{scheme}")


@pytest.mark.parametrize("size", list(SIZES))
def test_a_choice_is_made_by_keyboard_and_is_what_is_saved(visit, of_a_piece, size):
    page, complaints = visit(of_a_piece, size=size)
    wait_for_answer(page)
    hours = page.locator(".schedule-hours")
    before = hours.inner_text()
    page.locator(".choice input:checked").focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_function(
        "before => document.querySelector('.schedule-hours').innerText !== before",
        arg=before,
    )
    settle(page)
    chosen = page.locator(".choice input:checked")
    assert page.evaluate("document.activeElement.name") == "rule", "the focus stays"
    rule = chosen.get_attribute("value")
    assert page.locator("#keep-form input[name=rule]").get_attribute("value") == rule
    assert page.locator(".choice:has(input:checked) .choice-hours").inner_text() == (
        hours.inner_text()
    )
    assert f"rule={rule.replace(' ', '+')}" in page.url
    page.get_by_role("button", name=re.compile("^Save and book")).click()
    page.wait_for_url("**/fuse/book/**")
    name = {"exact": "Exact thickness", "row": "Published table"}.get(rule, "")
    assert name in page.locator(".facts-line").inner_text()
    assert complaints == []


def test_it_works_without_scripts(browser, live_server, signed_in, cast, of_a_piece):
    context = browser.new_context(java_script_enabled=False)
    cookie = signed_in("maker").cookies["sessionid"]
    context.add_cookies(
        [{"name": "sessionid", "value": cookie.value, "url": live_server.url}]
    )
    page = context.new_page()
    page.goto(f"{live_server.url}{of_a_piece}?kiln={cast.kiln.pk}")
    assert page.locator(".schedule-bands").is_visible()
    page.get_by_role("radio", name=re.compile("Exact thickness")).check()
    page.get_by_role("button", name="Show the chosen schedule").click()
    assert page.locator(".choice input:checked").get_attribute("value") == "exact"
    assert page.locator("#keep-form input[name=rule]").get_attribute("value") == "exact"
    assert page.locator("svg.chart-wide").count() == 2, "temperature and tension"
    page.get_by_role("button", name=re.compile("^Save and book")).click()
    assert "/fuse/book/" in page.url
    context.close()


def test_what_was_typed_wrongly_stays(visit, of_any_glass):
    page, _ = visit(of_any_glass)
    wait_for_answer(page)
    layers = page.get_by_label("Layers")
    layers.fill("many")
    page.get_by_text("whole number of layers").wait_for()
    assert layers.input_value() == "many"
    assert page.evaluate("document.activeElement.id") == "id_layers"
    layers.fill("12")
    wait_for_answer(page)
    assert page.locator(".schedule-hours").is_visible()
