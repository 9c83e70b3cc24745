"""Guessing passwords: from many addresses, at many names, from inside, and for spite."""

import datetime as dt

import pytest
from axes.models import AccessAttempt, AccessLog
from django.contrib.auth import SESSION_KEY as SIGNED_IN
from django.test import Client as Browser
from django.utils import timezone

from studio import jobs
from studio.http import counted_address
from studio.services.accounts import password_link
from studio.services.throttle import MOST_OF_A_NAME, MOST_OF_AN_ADDRESS
from tests import make
from tests.studio.views.pages import address, text_of

PHRASE = "a long pass phrase"
NEW = "eelgrass at the slack of the tide"
TOKEN = "x3kHq0bq6uT1Yf2mPp9s-Zr_7vWcLdEaNnGgJjKkQqR"
HOUR = dt.timedelta(hours=1)


def sign_in(email, password, *, browser=None, at="192.0.2.1", **more):
    return (browser or Browser()).post(
        address("sign_in"),
        {"username": email, "password": password, **more},
        REMOTE_ADDR=at,
    )


def guess(email, count, *, at="192.0.2.{}", browser=None):
    """Guess so often, each time from the next address; return how often it was heard."""
    answers = [
        sign_in(email, f"guess {n}", at=at.format(n), browser=browser)
        for n in range(1, count + 1)
    ]
    assert {answer.status_code for answer in answers} <= {422, 429}
    return sum(answer.status_code == 422 for answer in answers)


def test_sixty_addresses_guess_at_one_name(cast):
    assert guess(cast.owner.email, 60) < MOST_OF_A_NAME
    # Even the right one is not heard now, from anywhere.
    assert sign_in(cast.owner.email, PHRASE, at="198.51.100.9").status_code == 429
    assert sign_in(cast.maker.email, PHRASE, at="198.51.100.9").status_code == 302


def test_one_address_guesses_at_forty_names(cast):
    heard = 0
    for n in range(40):
        heard += sign_in(f"name{n}@example.org", "guess").status_code == 422
    assert heard < MOST_OF_AN_ADDRESS
    assert sign_in(cast.maker.email, PHRASE).status_code == 429
    assert sign_in(cast.maker.email, PHRASE, at="192.0.2.2").status_code == 302


def test_a_network_of_ipv6_counts_as_one_address(cast, rf):
    assert guess(cast.owner.email, 15, at="2001:db8:0:1::{}") < 10
    other = rf.get("/", REMOTE_ADDR="2001:db8:0:2::1")
    assert counted_address(other) == "2001:db8:0:2::"


def test_a_name_that_nobody_has_is_locked_like_any_other(db):
    assert guess("nobody@example.org", 60) < MOST_OF_A_NAME


def test_an_own_account_does_not_buy_more_guesses(cast):
    for n in range(12):
        sign_in(cast.owner.email, f"guess {n}")
        sign_in(cast.helper.email, PHRASE)
    assert sign_in(cast.owner.email, PHRASE).status_code == 429


def test_no_stranger_keeps_somebody_out_of_where_they_usually_are(cast):
    tablet = Browser()
    assert sign_in(cast.owner.email, PHRASE, browser=tablet).status_code == 302
    tablet.post(address("sign_out"))
    guess(cast.owner.email, 60)
    for n in range(40):
        sign_in(f"name{n}@example.org", "guess")
    assert sign_in(cast.owner.email, PHRASE).status_code == 429
    assert sign_in(cast.owner.email, PHRASE, browser=tablet).status_code == 302


def test_a_known_device_has_no_more_guesses_than_another(cast):
    tablet = Browser()
    sign_in(cast.owner.email, PHRASE, browser=tablet)
    tablet.post(address("sign_out"))
    assert guess(cast.owner.email, 30, browser=tablet) < 10
    # It is known for its own people only.
    assert guess(cast.maker.email, 60, browser=tablet) < MOST_OF_A_NAME


@pytest.mark.parametrize("spoil", [lambda cookie: cookie[:-1], lambda cookie: "x"])
def test_a_forged_device_is_unknown(cast, settings, spoil):
    tablet = Browser()
    sign_in(cast.owner.email, PHRASE, browser=tablet)
    kept = tablet.cookies[settings.DEVICE_COOKIE_NAME]
    assert kept["httponly"]
    assert kept["samesite"] == "Lax"
    tablet.post(address("sign_out"))
    tablet.cookies[settings.DEVICE_COOKIE_NAME] = spoil(kept.value)
    guess(cast.owner.email, 60)
    assert sign_in(cast.owner.email, PHRASE, browser=tablet).status_code == 429


def test_a_lock_opens_after_an_hour_however_much_is_knocked(cast):
    guess(cast.owner.email, 60)
    AccessAttempt.objects.update(attempt_time=timezone.now() - HOUR / 2)
    guess(cast.owner.email, 60)
    AccessAttempt.objects.update(attempt_time=timezone.now() - HOUR)
    assert sign_in(cast.owner.email, PHRASE).status_code == 302


def set_by_link(person):
    """Set a new password by a link, and return the browser in which it was set."""
    person.refresh_from_db()
    browser = Browser()
    form = browser.get(password_link(person), follow=True).request["PATH_INFO"]
    browser.post(form, {"new_password1": NEW, "new_password2": NEW})
    return browser


def test_a_device_is_known_until_the_password_changes(cast):
    tablet = Browser()
    sign_in(cast.owner.email, PHRASE, browser=tablet)
    set_by_link(cast.owner)
    guess(cast.owner.email, 60)
    assert sign_in(cast.owner.email, NEW, browser=tablet).status_code == 429


def test_a_link_to_set_a_password_opens_a_lock_at_once(cast):
    guess(cast.owner.email, 60)
    browser = set_by_link(cast.owner)
    assert sign_in(cast.owner.email, NEW).status_code == 302
    # Whoever goes on guessing does not shut out the device that had the link.
    guess(cast.owner.email, 60)
    assert sign_in(cast.owner.email, NEW, browser=browser).status_code == 302


def test_twenty_five_wrong_old_passwords(cast, settings):
    browser = Browser()
    sign_in(cast.owner.email, PHRASE, browser=browser)
    sent = {"new_password1": NEW, "new_password2": NEW}
    heard = [
        browser.post(
            address("password_change"), sent | {"old_password": f"guess {n}"}
        ).status_code
        for n in range(25)
    ]
    assert heard[: settings.AXES_FAILURE_LIMIT - 1] == [422] * 9
    assert heard[9] == 429
    # Signed out, and signing in here is locked.
    assert set(heard[10:]) == {302}
    assert SIGNED_IN not in browser.session
    assert sign_in(cast.owner.email, PHRASE, browser=browser).status_code == 429
    cast.owner.refresh_from_db()
    assert cast.owner.check_password(PHRASE)


def change_password(browser):
    sent = {"old_password": PHRASE, "new_password1": NEW, "new_password2": NEW}
    return browser.post(address("password_change"), sent)


def test_no_stranger_keeps_somebody_out_of_where_they_joined(cast):
    made = make.invitation(studio=cast.studio, token=TOKEN)
    phone = Browser()
    phone.get(address("invitation_link", TOKEN))
    joined = {"name": "Nia Fell", "new_password1": PHRASE, "new_password2": PHRASE}
    assert phone.post(address("invitation_join"), joined).status_code == 302
    guess(made.email, 60)
    assert change_password(phone)["Location"] == address("signing_in")
    phone.post(address("sign_out"))
    assert sign_in(made.email, NEW, browser=phone).status_code == 302


def test_no_stranger_signs_somebody_out(signed_in, cast):
    # Let in without the cookie that makes a device known.
    browser = signed_in()
    guess(cast.owner.email, 60)
    assert change_password(browser).status_code == 429
    assert browser.get(address("today")).status_code == 200


def test_what_was_typed_is_not_stored(cast):
    browser = Browser()
    sign_in(cast.owner.email, PHRASE, browser=browser)
    browser.post(
        address("password_change"),
        {"old_password": "once mine", "new_password1": NEW, "new_password2": NEW},
    )
    sign_in(cast.owner.email, "a guess", next="/stock/")
    kept = list(AccessAttempt.objects.values_list("post_data", "get_data", "path_info"))
    assert kept == [("", "", "")] * 2


def test_failures_that_count_no_more_are_deleted(cast):
    guess(cast.owner.email, 3)
    assert not AccessLog.objects.exists()
    now = timezone.now()
    jobs.forget_old(now=now)
    assert AccessAttempt.objects.count() == 3
    jobs.forget_old(now=now + HOUR + dt.timedelta(minutes=1))
    assert not AccessAttempt.objects.exists()


def test_the_locked_page_says_the_ways_in_and_keeps_the_address(cast):
    for _ in range(10):
        page = text_of(sign_in(cast.owner.email, "a guess", next="/stock/"))
    assert "Locked for 60 minutes" in page
    assert "on which you have signed in before" in page
    assert f'value="{cast.owner.email}"' in page
    assert 'value="/stock/"' in page
    assert "a guess" not in page
