"""Sessions that somebody else may hold: ended, left alone, and kept too long."""

import datetime as dt

import pytest
from django.contrib.sessions.models import Session
from django.db import DatabaseError
from django.test import Client as Browser
from django.utils import timezone

from studio import jobs
from studio.models import SignedIn
from studio.services.accounts import password_link
from studio.services.devices import browser_words
from studio.sessions import STEP
from tests.studio.views.pages import address, text_of

PHRASE = "a long pass phrase"
NEW = "eelgrass at the slack of the tide"
TABLET = (
    "Mozilla/5.0 (iPad; CPU OS 17_4 like Mac OS X) AppleWebKit/605.1.15 "
    "(KHTML, like Gecko) Version/17.4 Mobile/15E148 Safari/604.1"
)
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def clock(monkeypatch):
    """Return a function that moves the sessions' clock on."""
    now = [timezone.now()]

    def move(by):
        now[0] += by
        return now[0]

    monkeypatch.setattr("django.utils.timezone.now", lambda: now[0])
    return move


@pytest.fixture
def sign_in(cast):
    """Return a function that signs somebody in on a new device."""

    def on(role="owner", **headers):
        browser = Browser(headers=headers)
        sent = {"username": cast.person(role).email, "password": PHRASE}
        answer = browser.post(address("sign_in"), sent, REMOTE_ADDR="192.0.2.7")
        assert answer.status_code == 302
        return browser

    return on


def is_in(browser):
    status = browser.get(address("today")).status_code
    assert status in {200, 302}
    return status == 200


def test_a_device_that_is_ended_is_out_at_once(sign_in, cast):
    here, tablet = sign_in(), sign_in(**{"user-agent": TABLET})
    page = text_of(here.get(address("signing_in")))
    assert "Mobile Safari" not in page
    assert "Safari on iPad" in page
    assert "from 192.0.2.7" in page
    device = SignedIn.objects.get(person=cast.owner, browser="Safari on iPad")
    answer = here.post(address("device_end", device.pk), follow=True)
    assert "Signed out on Safari on iPad" in text_of(answer)
    assert "from 192.0.2.7" in text_of(answer)
    assert not is_in(tablet)
    assert is_in(here)


def test_every_other_device_is_ended(sign_in):
    here, *others = sign_in(), sign_in(), sign_in()
    stranger = sign_in("maker")
    here.post(address("devices_end_others"))
    assert [is_in(one) for one in (here, *others, stranger)] == [
        True,
        False,
        False,
        True,
    ]


def test_nobody_ends_somebody_elses_device(sign_in, cast):
    owner, helper = sign_in(), sign_in("helper")
    device = SignedIn.objects.get(person=cast.owner)
    assert helper.post(address("device_end", device.pk)).status_code == 404
    assert owner.get(address("device_end", device.pk)).status_code == 405
    assert is_in(owner)


def test_a_new_password_ends_every_other_session(sign_in, cast):
    here, thief = sign_in(), sign_in()
    sent = {"old_password": PHRASE, "new_password1": NEW, "new_password2": NEW}
    assert here.post(address("password_change"), sent).status_code == 302
    assert is_in(here)
    assert not is_in(thief)
    assert SignedIn.objects.filter(person=cast.owner).count() == 1


def test_a_password_set_by_link_ends_every_session(sign_in, cast):
    thief, browser = sign_in(), Browser()
    cast.owner.refresh_from_db()
    form = browser.get(password_link(cast.owner), follow=True).request["PATH_INFO"]
    browser.post(form, {"new_password1": NEW, "new_password2": NEW})
    assert not is_in(thief)
    assert not SignedIn.objects.exists()


def test_a_link_opened_where_its_person_is_signed_in_sets_the_password(
    sign_in, cast, settings
):
    browser, other = sign_in(), sign_in()
    cast.owner.refresh_from_db()
    form = browser.get(password_link(cast.owner), follow=True).request["PATH_INFO"]
    del browser.cookies[settings.DEVICE_COOKIE_NAME]
    sent = {"new_password1": NEW, "new_password2": NEW}
    answer = browser.post(form, sent, follow=True)
    assert answer.request["PATH_INFO"] == address("sign_in")
    assert "Your password is set. Sign in with it." in text_of(answer)
    assert settings.DEVICE_COOKIE_NAME in browser.cookies
    assert not is_in(browser)
    assert not is_in(other)


def test_an_idle_session_is_over(sign_in, clock, settings):
    browser, busy = sign_in(), sign_in()
    for _ in range(settings.IDLE_HOURS - 1):
        clock(HOUR)
    assert is_in(busy)
    assert is_in(busy)
    clock(HOUR + STEP)
    assert not is_in(browser)
    assert is_in(busy)


def test_no_session_outlives_its_limit_however_much_it_is_used(
    sign_in, clock, settings
):
    settings.SESSION_COOKIE_AGE = 2 * 24 * 60 * 60
    browser = sign_in()
    for _ in range(47):
        clock(HOUR)
        assert is_in(browser)
    clock(HOUR)
    assert not is_in(browser)


def test_use_is_written_now_and_then_only(sign_in, clock):
    browser = sign_in()
    began = SignedIn.objects.get().used_at
    is_in(browser)
    assert SignedIn.objects.get().used_at == began
    later = clock(STEP + dt.timedelta(seconds=1))
    is_in(browser)
    is_in(browser)
    assert SignedIn.objects.get().used_at == later
    assert SignedIn.objects.get().signed_in_at == began


def test_work_goes_on_where_use_cannot_be_written(sign_in, clock, monkeypatch):
    def refuse(*_, **__):
        raise DatabaseError("database or disk is full")

    browser = sign_in()
    clock(HOUR)
    monkeypatch.setattr("django.db.models.QuerySet.update", refuse)
    assert is_in(browser)


def test_a_session_from_before_there_was_a_list_is_over(sign_in):
    browser = sign_in()
    session = browser.session
    del session["began"]
    session.save()
    assert not is_in(browser)


def test_signing_in_takes_another_key_and_drops_the_old_one(cast):
    browser = Browser()
    session = browser.session
    session["planted"] = True
    session.save()
    planted = browser.cookies["sessionid"].value if browser.cookies else ""
    browser.post(address("sign_in"), {"username": cast.owner.email, "password": PHRASE})
    assert browser.session.session_key != planted
    assert not Session.objects.filter(pk=planted).exists()


def test_sessions_that_are_over_are_deleted(sign_in, settings):
    sign_in()
    now = timezone.now()
    Session.objects.update(expire_date=now - HOUR)
    sign_in()
    jobs.forget_old(now=now)
    assert Session.objects.count() == SignedIn.objects.count() == 1


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (TABLET, "Safari on iPad"),
        ("Mozilla/5.0 (X11; Linux x86_64; rv:127.0) Firefox/127.0", "Firefox on Linux"),
        (
            "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) "
            "Chrome/126.0.0.0 Mobile Safari/537.36",
            "Chrome on Android",
        ),
        ("", ""),
        ("nothing that anybody knows", ""),
        ("Mozilla/5.0 (" * 5000, ""),
    ],
)
def test_browsers_are_named_as_people_do(said, words):
    assert browser_words(said) == words
