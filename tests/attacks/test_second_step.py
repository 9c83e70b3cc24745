"""The second step: codes guessed, replayed, raced for, and gone round."""

import datetime as dt
import re
import time
import zipfile
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.contrib.auth import SESSION_KEY as SIGNED_IN
from django.db import connection
from django.test import Client as Browser
from django.utils import timezone
from django_otp.oath import TOTP
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.errors import Refused
from studio.models import Person
from studio.services import second_step as steps
from studio.services.accounts import password_link
from studio.services.exporting import write_archive
from studio.services.leaving import delete_studio
from tests import make
from tests.cast import NOW
from tests.studio.views.pages import address, text_of

PHRASE = "a long pass phrase"
NEW = "eelgrass at the slack of the tide"
RIGHT, WRONG = 302, 409


class App:
    """A person's app. Each code is the next one: one that was used is refused."""

    def __init__(self, person):
        self.person = person
        self.steps = 0

    def code(self):
        device = TOTPDevice.objects.get(user=self.person)
        totp = TOTP(device.bin_key)
        totp.time = time.time() + 30 * self.steps
        self.steps += 1
        return f"{totp.token():06d}"


@pytest.fixture
def owner(cast):
    """The owner, with the second step on; `app` and `codes` are theirs."""
    person = cast.owner
    begun = steps.begin(person=person)
    person.app = App(person)
    # The codes of two steps are near enough: the one now, and the next.
    person.codes = confirm(person, begun, person.app.code())
    return person


def confirm(person, begun, code):
    return steps.confirm(person=person, begun=begun, code=code, at=NOW)


def with_password(person, *, browser=None, password=PHRASE, **more):
    browser = browser or Browser()
    sent = {"username": person.email, "password": password, **more}
    answer = browser.post(address("sign_in"), sent)
    assert answer["Location"] == address("sign_in_code")
    assert SIGNED_IN not in browser.session
    return browser


def with_code(browser, code):
    return browser.post(address("sign_in_code"), {"code": code})


def forget_tries(person):
    """Let the next code be tried without waiting."""
    steps.take_new_tries(person=person)


# RFC 6238, Appendix B, the column of SHA-1; the key is the ASCII of 1234567890 twice.
@pytest.mark.parametrize(
    ("seconds", "code"),
    [
        (59, 94287082),
        (1111111109, 7081804),
        (1111111111, 14050471),
        (1234567890, 89005924),
        (2000000000, 69279037),
        (20000000000, 65353130),
    ],
)
def test_codes_are_those_of_the_standard(seconds, code):
    totp = TOTP(b"12345678901234567890", digits=8)
    totp.time = seconds
    assert totp.token() == code


def test_the_password_alone_opens_nothing(owner):
    browser = with_password(owner, next=address("stock"))
    assert browser.get(address("today")).status_code == 302
    assert with_code(browser, "000000").status_code == WRONG
    assert SIGNED_IN not in browser.session
    forget_tries(owner)
    answer = with_code(browser, f" {owner.app.code()} ")
    assert answer["Location"] == address("stock")
    assert browser.get(address("stock")).status_code == 200


def test_a_code_works_once(owner):
    code = owner.app.code()
    assert with_code(with_password(owner), code).status_code == RIGHT
    answer = with_code(with_password(owner), code)
    assert answer.status_code == WRONG
    assert "used already" in text_of(answer)


def test_a_code_before_the_password_is_sent_back(owner, client):
    answer = with_code(client, owner.app.code())
    assert answer["Location"] == address("sign_in")


def test_codes_are_guessed_no_more_than_passwords(owner, settings):
    browser = with_password(owner)
    answers = []
    for n in range(12):
        forget_tries(owner)
        answers.append(with_code(browser, f"{n:06d}").status_code)
    most = settings.AXES_FAILURE_LIMIT
    assert answers == [WRONG] * (most - 1) + [429] * (13 - most)
    # The right one is not heard either.
    forget_tries(owner)
    assert with_code(browser, owner.app.code()).status_code == 429


def test_each_wrong_code_makes_the_next_one_wait(owner):
    browser = with_password(owner)
    for code in ("000000", "000001", owner.app.code()):
        answer = with_code(browser, code)
        assert answer.status_code == WRONG
    assert "Too many codes were wrong. Wait" in text_of(answer)


def test_a_long_wait_is_said_in_days_with_the_way_round_it(owner):
    TOTPDevice.objects.update(
        throttling_failure_timestamp=timezone.now(), throttling_failure_count=20
    )
    page = text_of(with_code(with_password(owner), "000000"))
    assert "Wait 7 days, or set a new password by a link" in page


def test_a_link_to_set_a_password_lets_the_next_code_be_tried_at_once(owner):
    browser = with_password(owner)
    for code in ("000000", "000001"):
        with_code(browser, code)
    form = browser.get(password_link(owner), follow=True).request["PATH_INFO"]
    browser.post(form, {"new_password1": NEW, "new_password2": NEW})
    browser = with_password(owner, password=NEW)
    assert with_code(browser, owner.app.code()).status_code == RIGHT


def test_the_second_step_waits_ten_minutes_for_its_code(owner):
    browser = with_password(owner)
    session = browser.session
    session["waiting_for_second_step"] |= {"at": time.time() - 601}
    session.save()
    assert with_code(browser, owner.app.code())["Location"] == address("sign_in")


def test_a_new_password_ends_what_waited_for_a_code(owner):
    browser = with_password(owner)
    owner.set_password("eelgrass at the slack of the tide")
    owner.save()
    assert with_code(browser, owner.app.code())["Location"] == address("sign_in")


def test_a_recovery_code_works_once_and_is_not_stored(owner):
    code, other = owner.codes[:2]
    assert len(set(owner.codes)) == 10
    kept = set(StaticToken.objects.values_list("token", flat=True))
    assert not kept & {code, code.replace("-", "")}
    typed = code.replace("-", " ").upper()
    assert with_code(with_password(owner), typed).status_code == RIGHT
    assert with_code(with_password(owner), code).status_code == WRONG
    forget_tries(owner)
    assert with_code(with_password(owner), other).status_code == RIGHT


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("kind", ["recovery", "app"])
def test_of_eight_who_send_one_code_at_once_one_is_let_in(owner, kind):
    code = owner.codes[0] if kind == "recovery" else owner.app.code()

    def send(_):
        try:
            steps.check(person=Person.objects.get(pk=owner.pk), code=code, at=NOW)
        except Refused:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(send, range(8))) == 1


def test_somebody_elses_code_is_no_code(owner, cast):
    begun = steps.begin(person=cast.maker)
    codes = confirm(cast.maker, begun, App(cast.maker).code())
    assert with_code(with_password(owner), codes[0]).status_code == WRONG


@pytest.mark.parametrize("code", ["", "x" * 41, "٠٠٠٠٠٠", "\0", "-1", "9" * 40])
def test_odd_codes_are_refused_in_words(owner, code):
    assert with_code(with_password(owner), code).status_code in {WRONG, 422}


# --- Setting up and turning off ---------------------------------------------------


def set_up(browser, person):
    began = browser.post(address("second_step"), {"password": PHRASE})
    assert began["Location"] == address("second_step_confirm")
    page = text_of(browser.get(address("second_step_confirm")))
    assert "<svg" in page
    assert "otpauth://totp/Slowcool" in page
    return browser.post(address("second_step_confirm"), {"code": App(person).code()})


def test_it_counts_once_a_code_has_confirmed_it(signed_in, cast):
    browser, other = signed_in(), signed_in()
    browser.post(address("second_step"), {"password": PHRASE})
    # Not yet: whoever lost the picture is not locked out.
    assert Browser().post(
        address("sign_in"), {"username": cast.owner.email, "password": PHRASE}
    )["Location"] == address("today")
    answer = browser.post(address("second_step_confirm"), {"code": "000000"})
    assert answer.status_code == WRONG
    forget_tries(cast.owner)
    page = text_of(set_up(browser, cast.owner))
    codes = re.findall(r"<code>(\w{5}-\w{5})</code>", page)
    assert len(codes) == 10
    assert "10 recovery codes left" in text_of(browser.get(address("signing_in")))
    # Shown once, and whoever got in by the password alone is out.
    assert browser.get(address("second_step_confirm"))["Location"] == address(
        "second_step"
    )
    assert other.get(address("today")).status_code == 302
    assert with_code(with_password(cast.owner), codes[0]).status_code == RIGHT


def test_nobody_at_an_unwatched_tablet_sets_it_up(signed_in, cast):
    browser = signed_in()
    answer = browser.post(address("second_step"), {"password": "a guess"})
    assert answer.status_code == 422
    # Nor finds the secret that its owner asked for elsewhere.
    signed_in().post(address("second_step"), {"password": PHRASE})
    assert browser.get(address("second_step_confirm")).status_code == 302
    code = App(cast.owner).code()
    answer = browser.post(address("second_step_confirm"), {"code": code})
    assert answer["Location"] == address("second_step")
    assert not TOTPDevice.objects.filter(confirmed=True).exists()


def test_a_secret_is_shown_only_where_the_password_was_typed_for_it(signed_in, cast):
    tablet, laptop = signed_in(), signed_in()
    for browser in (tablet, laptop):
        browser.post(address("second_step"), {"password": PHRASE})
    again = address("second_step")
    assert tablet.get(address("second_step_confirm"))["Location"] == again
    sent = {"code": App(cast.owner).code()}
    assert tablet.post(address("second_step_confirm"), sent)["Location"] == again
    assert laptop.post(address("second_step_confirm"), sent).status_code == 200


def test_the_secret_is_shown_for_a_quarter_of_an_hour(signed_in):
    browser = signed_in()
    browser.post(address("second_step"), {"password": PHRASE})
    for device in TOTPDevice.objects.all():
        device.created_at -= dt.timedelta(minutes=16)
        device.save()
    assert browser.get(address("second_step_confirm")).status_code == 302


def test_it_is_turned_off_with_both(signed_in, owner):
    browser, other = signed_in(), signed_in()
    url = address("second_step_off")
    wrong = [
        {"password": "a guess", "code": owner.app.code()},
        {"password": PHRASE, "code": "000000"},
    ]
    assert [browser.post(url, sent).status_code for sent in wrong] == [422, WRONG]
    forget_tries(owner)
    sent = {"password": PHRASE, "code": owner.codes[3]}
    assert browser.post(url, sent).status_code == 302
    assert not TOTPDevice.objects.exists()
    assert not StaticToken.objects.exists()
    assert browser.get(address("today")).status_code == 200
    assert other.get(address("today")).status_code == 302


@pytest.mark.parametrize("page", ["second_step_off", "recovery_codes_new"])
def test_codes_are_not_guessed_from_inside_either(signed_in, owner, settings, page):
    browser = signed_in()
    answers = []
    for n in range(settings.AXES_FAILURE_LIMIT):
        forget_tries(owner)
        sent = {"password": PHRASE, "code": f"{n:06d}"}
        answers.append(browser.post(address(page), sent).status_code)
    assert answers == [WRONG] * (settings.AXES_FAILURE_LIMIT - 1) + [429]
    assert SIGNED_IN not in browser.session
    assert TOTPDevice.objects.filter(confirmed=True).exists()


def test_new_recovery_codes_end_the_old_ones(signed_in, owner):
    sent = {"password": PHRASE, "code": owner.codes[0]}
    page = text_of(signed_in().post(address("recovery_codes_new"), sent))
    made = re.findall(r"<code>(\w{5}-\w{5})</code>", page)
    assert len(made) == 10
    assert with_code(with_password(owner), owner.codes[1]).status_code == WRONG
    forget_tries(owner)
    assert with_code(with_password(owner), made[1]).status_code == RIGHT


def test_pages_with_secrets_are_kept_by_no_cache(signed_in):
    browser = signed_in()
    browser.post(address("second_step"), {"password": PHRASE})
    page = browser.get(address("second_step_confirm"))
    assert "no-store" in page["Cache-Control"]


# --- Owners in production ---------------------------------------------------------


def test_an_owner_is_made_to_set_it_up_first(signed_in, cast, settings):
    settings.OWNERS_NEED_SECOND_STEP = True
    browser = signed_in()
    for name in ("today", "settings", "yours", "signing_in", "second_step_off"):
        assert browser.get(address(name))["Location"] == address("second_step"), name
    assert browser.post(address("export_make")).status_code == 302
    page = text_of(browser.get(address("second_step")))
    assert "Owners sign in with a second step" in page
    assert set_up(browser, cast.owner).status_code == 200
    assert browser.get(address("today")).status_code == 200


def test_nor_joins_another_studio_before(signed_in, cast, strangers, settings):
    settings.OWNERS_NEED_SECOND_STEP = True
    Person.objects.filter(pk=cast.owner.pk).update(email_confirmed_at=NOW)
    made = make.invitation(studio=strangers.studio, email=cast.owner.email)
    answer = signed_in().post(address("invitation_accept"), {"invitation": made.pk})
    assert answer["Location"] == address("second_step")
    made.refresh_from_db()
    assert made.accepted_at is None


def test_nobody_else_is_made_to(signed_in, settings):
    settings.OWNERS_NEED_SECOND_STEP = True
    for role in ("maker", "helper", "technician"):
        assert signed_in(role).get(address("today")).status_code == 200


def test_an_owner_with_a_code_goes_on(owner, settings):
    settings.OWNERS_NEED_SECOND_STEP = True
    browser = with_password(owner)
    with_code(browser, owner.app.code())
    assert browser.get(address("today")).status_code == 200


def test_a_session_let_in_without_a_code_is_over_where_one_is_asked(
    signed_in, owner, settings
):
    settings.OWNERS_NEED_SECOND_STEP = True
    browser = signed_in()
    assert browser.get(address("today"))["Location"] == address("second_step")
    browser.get(address("second_step"))
    assert SIGNED_IN not in browser.session


# --- Where the secrets go ---------------------------------------------------------


def test_no_secret_leaves_in_a_studios_archive(owner, cast, tmp_path):
    archive = tmp_path / "studio.zip"
    write_archive(studio=cast.studio, path=archive, told=str, at=NOW)
    with zipfile.ZipFile(archive) as opened:
        held = b"".join(opened.read(name) for name in opened.namelist())
    assert cast.owner.email.encode() in held
    kept = set(StaticToken.objects.values_list("token", flat=True))
    kept.add(TOTPDevice.objects.get().key)
    assert not [secret for secret in kept if secret.encode() in held]


def test_they_go_with_their_person(owner, cast):
    delete_studio(studio=cast.studio)
    assert not TOTPDevice.objects.exists()
    assert not StaticToken.objects.exists()
