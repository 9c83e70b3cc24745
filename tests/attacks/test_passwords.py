"""Passwords that are guessed first, and those that must be taken."""

import time

import pytest
from django.contrib.auth.hashers import MD5PasswordHasher
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client as Browser

from studio.services.passwords import refuse_expected
from tests.studio.views.pages import address, text_of

LONG_ONE = "g" * 1000


def refusal(password, person=None):
    with pytest.raises(ValidationError) as refused:
        validate_password(password, user=person)
    return " ".join(refused.value.messages)


@pytest.mark.parametrize(
    "password",
    [
        "aaaaaaaaaaaa",
        "a" * 15,
        "1234" * 4,
        "123412341234",
        "abcdefghijkl",
        "abcdefghijklmnop",
        "qwertyuiopasdfgh",
        "passwordpassword",
        "P@ssw0rdP@ssw0rd1",
        "111111111111111222",
        "kilnglasskilnglass",
    ],
)
def test_repeats_rows_and_common_ones_are_refused(password):
    told = refusal(password)
    assert "too short" in told or "nobody would put together" in told


@pytest.mark.parametrize(
    "password",
    [
        "Gullmarsh Owner",
        "gullmarsh gullmarsh 26",
        "slowcool-slowcool!",
        "{email}",
        "owner.GULLMARSH.1",
    ],
)
def test_what_everybody_knows_about_somebody_is_refused(cast, password):
    told = refusal(password.format(email=cast.owner.email), cast.owner)
    assert "tried first" in told


@pytest.mark.parametrize(
    "password",
    [
        "eelgrass at the slack of the tide",
        # No rule asks for capitals, digits or signs, or against them.
        "lagunenglas und seegras",
        "83920174652918374650",
        "gullmarsh has eleven herons in a lime tree",
        "ぬるい海とガラスの長い長い一日のおわり",
        "reed " * 3 + "heron pontoon tallow kelp " * 8,
    ],
)
def test_long_ones_of_any_kind_are_taken(cast, password):
    validate_password(password, user=cast.owner)


def test_a_password_of_signs_keeps_nobody_waiting(db):
    began = time.process_time()
    refuse_expected("4@8({[<3691!|7$5+%20" * 50, [])
    assert time.process_time() - began < 2


def test_fourteen_characters_are_too_few(db):
    assert "at least 15" in refusal("heron & tallow")


def test_sixty_four_characters_and_many_more_are_told_apart(cast):
    long = "heron pontoon tallow kelp " * 20
    cast.owner.set_password(long + "a")
    assert cast.owner.check_password(long + "a")
    assert not cast.owner.check_password(long + "b")
    assert "at most 1000" in refusal("heron pontoon tallow kelp " * 39)


@pytest.fixture
def hashed(monkeypatch):
    """The length of each password that is hashed, in order."""
    lengths = []
    encode = MD5PasswordHasher.encode

    def note(self, password, salt):
        lengths.append(len(password))
        return encode(self, password, salt)

    monkeypatch.setattr(MD5PasswordHasher, "encode", note)
    return lengths


@pytest.mark.parametrize(
    "typed", ["a guess", "\ufb01ve herons at the cafe\u0301", LONG_ONE, LONG_ONE + "g"]
)
def test_signing_in_hashes_as_much_whoever_has_an_account(cast, hashed, typed):
    asked = []
    for name in (cast.owner.email, "nobody@example.org"):
        sent = {"username": name, "password": typed}
        answer = Browser().post(address("sign_in"), sent)
        told = text_of(answer).replace(name, "")
        asked.append((answer.status_code, "Use at most 1000" in told, [*hashed]))
        hashed.clear()
    assert asked[0] == asked[1]
    assert len(asked[0][2]) == (len(typed) <= 1000)


@pytest.mark.parametrize(
    ("page", "field"),
    [
        ("password_change", "old_password"),
        ("password_change", "new_password1"),
        ("second_step", "password"),
        ("second_step_off", "password"),
    ],
)
def test_what_is_too_long_is_refused_in_words_before_it_is_read(
    signed_in, monkeypatch, hashed, page, field
):
    def read(_):
        raise AssertionError("It was put into one form.")

    browser = signed_in()
    monkeypatch.setattr("studio.models.person.normal_password", read)
    # Eighteen letters each in their normal form: seconds in which nobody else is served.
    answer = browser.post(address(page), {field: "\ufdfa" * 1001})
    assert answer.status_code == 422
    assert "Use at most 1000 characters." in text_of(answer)
    assert not hashed


def test_nothing_too_long_is_set_or_taken(cast, hashed):
    with pytest.raises(ValueError, match="too long"):
        cast.owner.set_password(LONG_ONE + "g")
    assert not cast.owner.check_password(LONG_ONE + "g")
    assert not hashed


def test_letters_put_together_in_two_ways_are_one(cast):
    whole, in_parts = "caf\u00e9 of the five herons", "cafe\u0301 of the five herons"
    cast.owner.set_password(in_parts)
    assert cast.owner.check_password(whole)
    assert not cast.owner.check_password("another one entirely")


def test_the_form_says_what_to_do(signed_in):
    browser = signed_in("helper")
    said = {"old_password": "a long pass phrase"}
    answer = browser.post(
        address("password_change"),
        said | {"new_password1": "a" * 20, "new_password2": "a" * 20},
    )
    assert answer.status_code == 422
    assert "Use a few words that nobody would put together." in text_of(answer)
