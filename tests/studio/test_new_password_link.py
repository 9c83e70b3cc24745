"""The command that lets a lone owner back in."""

import re

import pytest
from axes.models import AccessAttempt
from django.test import Client as Browser
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.models import HistoryEntry
from tests.commands import call
from tests.studio.views.pages import address, text_of

# A command closes its connection, and with it a test's transaction.
pytestmark = pytest.mark.django_db(transaction=True)

NEW = "eelgrass at the slack of the tide"


@pytest.fixture
def locked_owner(cast):
    """An owner who forgot the password, tried too often, and lost their phone."""
    TOTPDevice.objects.create(user=cast.owner, confirmed=True)
    StaticDevice.objects.create(user=cast.owner)
    AccessAttempt.objects.create(username=cast.owner.email, failures_since_start=99)
    return cast.owner


def link_in(told):
    return re.search(r"http://127\.0\.0\.1:8000(/password/new/\S+)", told).group(1)


def test_a_lone_owner_is_let_in_with_one_command(locked_owner, signed_in, cast):
    old = signed_in()
    done = call(
        "new_password_link", locked_owner.email.upper(), "--without-second-step"
    )
    assert done.returncode == 0
    assert "once, within a day" in done.stdout
    assert old.get(address("today")).status_code == 302
    browser = Browser()
    form = browser.get(link_in(done.stdout), follow=True).request["PATH_INFO"]
    answer = browser.post(form, {"new_password1": NEW, "new_password2": NEW})
    assert answer.status_code == 302
    sent = {"username": locked_owner.email, "password": NEW}
    assert browser.post(address("sign_in"), sent)["Location"] == address("today")
    # Nobody does this behind the studio's back.
    history = text_of(browser.get(address("history")))
    assert "Whoever runs the server made" in history


def test_the_second_step_stays_unless_asked(locked_owner, signed_in):
    device = signed_in()
    told = call("new_password_link", locked_owner.email).stdout
    assert TOTPDevice.objects.count() == StaticDevice.objects.count() == 1
    assert not AccessAttempt.objects.exists()
    # A link alone ends nothing: it may have been asked for by mistake.
    assert device.get(address("today")).status_code == 200
    browser = Browser()
    form = browser.get(link_in(told), follow=True).request["PATH_INFO"]
    browser.post(form, {"new_password1": NEW, "new_password2": NEW})
    sent = {"username": locked_owner.email, "password": NEW}
    assert browser.post(address("sign_in"), sent)["Location"] == address("sign_in_code")
    assert browser.get(address("today")).status_code == 302


def test_an_address_that_nobody_has_is_told(db):
    done = call("new_password_link", "nobody@example.org")
    assert done.returncode != 0
    assert "Nobody signs in as nobody@example.org" in done.stderr
    assert not HistoryEntry.across_studios.exists()


def test_another_address_of_the_server_may_be_named(locked_owner):
    done = call(
        "new_password_link", locked_owner.email, "--address", "https://kiln.example/"
    )
    assert "https://kiln.example/password/new/" in done.stdout
