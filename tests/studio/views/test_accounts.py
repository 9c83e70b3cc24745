"""One's own account: a password set by a link."""

import datetime as dt

import pytest
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.test import Client as Browser

from studio.services.accounts import password_link
from tests.studio.views.pages import address, text_of

NEW = "eelgrass at the slack of the tide"
TWICE = {"new_password1": NEW, "new_password2": NEW}


def test_a_link_sets_a_password_once(client, cast):
    link = password_link(cast.helper)
    form = client.get(link, follow=True)
    # The token leaves the address: no picture, no history and no log gets to see it.
    assert form.request["PATH_INFO"].endswith("/set-password/")
    assert "New password" in text_of(form)
    wrong = client.post(form.request["PATH_INFO"], TWICE | {"new_password2": "x"})
    assert wrong.status_code == 422
    assert NEW not in text_of(wrong)
    done = client.post(form.request["PATH_INFO"], TWICE, follow=True)
    assert "Your password is set" in text_of(done)
    cast.helper.refresh_from_db()
    assert cast.helper.check_password(NEW)
    assert "no longer works" in text_of(Browser().get(link))
    assert "no longer works" in text_of(client.post(form.request["PATH_INFO"], TWICE))


def test_a_link_is_over_after_a_day(client, cast, monkeypatch):
    link = password_link(cast.helper)
    now = PasswordResetTokenGenerator._now
    monkeypatch.setattr(
        PasswordResetTokenGenerator,
        "_now",
        lambda self: now(self) + dt.timedelta(days=1, minutes=1),
    )
    assert "no longer works" in text_of(client.get(link))


def test_a_link_ends_when_its_person_signs_in(client, cast):
    link = password_link(cast.helper)
    sent = {"username": cast.helper.email, "password": "a long pass phrase"}
    assert Browser().post(address("sign_in"), sent).status_code == 302
    assert "no longer works" in text_of(client.get(link))


@pytest.mark.parametrize("uid", ["MA", "x", "_" * 300])
def test_a_forged_link_opens_nothing(client, db, uid):
    page = client.get(f"/password/new/{uid}/abc123-{'0' * 32}/")
    assert page.status_code == 200
    assert "no longer works" in text_of(page)
