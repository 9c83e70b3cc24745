"""Signing in and out, one's own password, and several studios."""

import pytest
from django.contrib.auth import SESSION_KEY as SIGNED_IN
from django.test import Client as Browser

from studio.http import client_address
from studio.models import Membership, Person
from tests.studio.views.pages import address, assert_asks_to_sign_in, text_of

PHRASE = "a long pass phrase"


def sign_in(browser, email, password=PHRASE, **more):
    return browser.post(
        address("sign_in"), {"username": email, "password": password, **more}
    )


def test_signing_in_leads_to_today_or_where_one_wanted_to_go(client, cast):
    answer = sign_in(client, f" {cast.helper.email.upper()} ")
    assert answer["Location"] == address("today")
    other = Browser()
    asked = other.get(address("stock"), follow=True)
    assert f'value="{address("stock")}"' in text_of(asked)
    answer = sign_in(other, cast.helper.email, next=address("stock"))
    assert answer["Location"] == address("stock")
    # Who is signed in already goes on.
    assert other.get(address("sign_in"))["Location"] == address("today")


def test_signing_in_leads_nowhere_else(client, cast):
    answer = sign_in(client, cast.helper.email, next="https://elsewhere.example/")
    assert answer["Location"] == address("today")


@pytest.mark.parametrize(
    ("email", "password"),
    [("helper", PHRASE), ("nobody@example.org", PHRASE), ("owner", "wrong")],
)
def test_a_wrong_address_or_password_says_the_same_and_keeps_the_address(
    client, cast, email, password
):
    if email == "owner":
        email = cast.owner.email
    answer = sign_in(client, email, password)
    page = text_of(answer)
    assert answer.status_code == 422
    assert "This address and password do not go together" in page
    assert f'value="{email}"' in page
    assert password not in page
    assert SIGNED_IN not in client.session


def test_ten_failures_lock_for_an_hour(client, cast, settings):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        answer = sign_in(client, cast.owner.email, "wrong")
    assert answer.status_code == 429
    page = text_of(answer)
    assert "Locked for 60 minutes" in page
    # What was typed stays, but never the password.
    assert f'value="{cast.owner.email}"' in page
    assert "wrong" not in page.split("<form")[1]
    # The right password, in other letters, does not open it either.
    assert sign_in(client, cast.owner.email.upper()).status_code == 429
    assert sign_in(Browser(), cast.maker.email).status_code == 302


def test_the_demo_is_named_only_on_a_demo_database(client, cast):
    assert "Demo: see the terminal" not in text_of(client.get(address("sign_in")))
    cast.studio.is_demo = True
    cast.studio.save()
    assert "Demo: see the terminal" in text_of(client.get(address("sign_in")))


def test_signing_out_is_by_post_only(signed_in):
    browser = signed_in()
    assert browser.get(address("sign_out")).status_code == 405
    assert browser.get(address("today")).status_code == 200
    assert browser.post(address("sign_out"))["Location"] == address("sign_in")
    assert browser.get(address("today")).status_code == 302


def test_forms_need_their_token(cast):
    strict = Browser(enforce_csrf_checks=True)
    strict.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    assert strict.post(address("my_units"), {}).status_code == 403


def test_a_person_without_a_studio_is_told_so(client, db):
    person = Person.objects.create_user("lone@example.org", PHRASE, name="Lone")
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.get(address("today"))
    assert answer.status_code == 403
    assert "You belong to no studio at the moment" in text_of(answer)
    assert f'action="{address("sign_out")}"' in text_of(answer)
    assert f'href="{address("invitation")}"' in text_of(answer)


def test_access_that_was_ended_ends_at_once(signed_in, cast):
    browser = signed_in("helper")
    assert browser.get(address("today")).status_code == 200
    Membership.owned.for_studio(cast.studio).filter(person=cast.helper).update(
        is_active=False
    )
    assert browser.get(address("today")).status_code == 403


def test_a_password_is_changed_with_the_old_one(signed_in, cast):
    browser = signed_in("helper")
    url = address("password_change")
    assert browser.get(url).status_code == 200
    new = "eelgrass at the slack of the tide"
    said = {"new_password1": new, "new_password2": new}
    wrong = browser.post(url, {"old_password": "x", **said})
    assert wrong.status_code == 422
    assert new not in text_of(wrong)
    short = browser.post(
        url, {"old_password": PHRASE, "new_password1": "abc", "new_password2": "abc"}
    )
    assert short.status_code == 422
    assert "too short" in text_of(short)
    answer = browser.post(url, {"old_password": PHRASE, **said})
    assert answer["Location"] == address("signing_in")
    cast.helper.refresh_from_db()
    assert cast.helper.check_password(new)
    # Still signed in here.
    assert "Your password is changed" in text_of(browser.get(address("settings")))


def test_somebody_of_two_studios_opens_one_at_a_time(signed_in, cast, strangers):
    Membership.across_studios.create(
        studio=strangers.studio, person=cast.maker, role="helper"
    )
    browser = signed_in("maker")
    page = text_of(browser.get(address("settings")))
    assert "Your studios" in page
    # The first they joined, though Fernhaven comes first by name.
    assert "<summary>Gullmarsh</summary>" in page
    assert browser.get(address("piece_new")).status_code == 200
    answer = browser.post(address("studio_switch"), {"studio": strangers.studio.pk})
    assert answer["Location"] == address("today")
    assert "<summary>Fernhaven</summary>" in text_of(browser.get(address("today")))
    # The role goes with the studio.
    assert browser.get(address("piece_new")).status_code == 403


@pytest.mark.parametrize("asked", ["999999", "", "x", None])
def test_nobody_opens_a_studio_that_is_not_theirs(signed_in, strangers, asked):
    browser = signed_in()
    sent = strangers.studio.pk if asked is None else asked
    assert browser.post(address("studio_switch"), {"studio": sent}).status_code == 404
    assert "<summary>Gullmarsh</summary>" in text_of(browser.get(address("today")))


def test_strangers_are_asked_to_sign_in(client, db):
    assert_asks_to_sign_in(client, address("password_change"))
    assert_asks_to_sign_in(client, address("studio_switch"), post={"studio": "1"})


def test_a_form_from_an_old_page_is_told_how_to_go_on(cast):
    browser = Browser(enforce_csrf_checks=True)
    answer = browser.post(address("sign_in"), {"username": "a@example.org"})
    assert answer.status_code == 403
    assert "load the page again" in answer.content.decode()


@pytest.mark.parametrize(
    ("behind_proxy", "sent", "counted"),
    [
        (False, "10.0.0.7", "127.0.0.1"),
        (True, "10.0.0.7", "10.0.0.7"),
        (True, "forged, 10.0.0.7", "10.0.0.7"),
        (True, "", "127.0.0.1"),
        (True, "unknown", "127.0.0.1"),
    ],
)
def test_failures_are_counted_by_who_really_asks(
    rf, settings, behind_proxy, sent, counted
):
    settings.BEHIND_PROXY = behind_proxy
    request = rf.get("/", headers={"X-Forwarded-For": sent})
    assert client_address(request) == counted
