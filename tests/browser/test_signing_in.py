"""Signing in with a second step, by keyboard, from setting it up to a lost phone."""

import re
import time
from base64 import b32decode

import pytest
from django.urls import reverse
from django_otp.oath import TOTP
from playwright.sync_api import expect

from tests.browser.screen import faults_of, px_too_wide

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHRASE = "a long pass phrase"


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_the_second_step_from_set_up_to_a_lost_phone(
    visit, cast, live_server, screenshot, size
):
    page, complaints = visit(reverse("studio:signing_in"), size=size)

    def look(name):
        assert faults_of(page) == [], name
        assert px_too_wide(page) <= 0, name
        screenshot(f"signing-in-{name}-{size}")

    look("off")
    page.get_by_role("link", name="Set up").press("Enter")
    page.get_by_label("Your password").fill(PHRASE)
    look("begin")
    # What is typed may be looked at, and is hidden again before it goes out.
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Your password")).to_have_attribute("type", "text")
    page.get_by_label("Your password").press("Enter")
    page.wait_for_url("**/confirm/")
    page.get_by_text("Type it instead").press("Enter")
    look("secret")
    secret = page.locator("code.password").inner_text().replace(" ", "")
    totp = TOTP(b32decode(secret))
    totp.time = time.time()
    page.get_by_label("Code from the app").fill(f"{totp.token():06d}")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Recovery codes")).to_be_visible()
    look("codes")
    codes = page.locator(".recovery-codes code").all_inner_texts()
    page.get_by_role("link", name="I have them").press("Enter")
    expect(page.get_by_text("10 recovery codes left.")).to_be_visible()
    look("on")
    page.context.clear_cookies()
    page.goto(live_server.url + reverse("studio:sign_in"))
    page.get_by_label("E-mail").fill(cast.maker.email)
    page.get_by_label("Password", exact=True).fill(PHRASE)
    page.keyboard.press("Enter")
    page.wait_for_url("**/sign-in/code/")
    look("code")
    page.get_by_label("Code").fill(codes[0].replace("-", ""))
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(f"^{re.escape(live_server.url)}/$"))
    assert complaints == []
