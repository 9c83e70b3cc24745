"""Requests that no browser sends from our pages: a page of ours says 400, never a 500."""

import re

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from studio.models import Membership, Role
from tests.contracts.test_permissions import ADDRESSES, arguments_of, world  # noqa: F401
from tests.patience import in_form

DIGITS = "9" * 5000
LINES = (
    b'--x\r\nContent-Disposition: form-data; name="username"%s\r\n%s\r\na\r\n--x--\r\n'
)
FORM = "application/x-www-form-urlencoded"
PARTS = "multipart/form-data; boundary=x"
NOT_READ = {
    "bogus charset": (f"{FORM}; charset=bogus", b"username=a"),
    "utf-7": (f"{FORM}; charset=utf-7", b"username=+AGE-"),
    "utf-16": (f"{PARTS}; charset=utf-16", LINES % (b"", b"")),
    "a codec that is no text": (f"{PARTS}; charset=hex", LINES % (b"", b"")),
    "a rotated form": (f"{FORM}; charset=rot13", b"hfreanzr=n"),
    "no boundary": ("multipart/form-data", LINES % (b"", b"")),
    "an endless boundary": (f"multipart/form-data; boundary={'x' * 5000}", b"--x"),
    "too many fields": (FORM, b"&".join(b"a%d=1" % n for n in range(1500))),
}
# Django reads these as well as it can; the view then says what is missing.
READ_ANYHOW = {
    "NUL": (FORM, b"username=a%00b&title=a%00b"),
    "NUL in a name": (FORM, b"user%00name=a"),
    "a file name's charset": (PARTS, LINES % (b"; filename*=bogus''a.jpg", b"")),
    "a file name's codec": (PARTS, LINES % (b"; filename*=hex''zz", b"")),
    "bad base64": (
        PARTS,
        LINES.replace(b"a\r\n--x--", b"a!b\r\n--x--")
        % (b"", b"Content-Transfer-Encoding: base64\r\n"),
    ),
}
# Every name that some page looks for in its address or form, by hand or with a form.
NAMES = [
    "again",
    "against",
    "begins_at",
    "booking",
    "client",
    "do",
    "first",
    "from",
    "highest_c",
    "kind",
    "last_h",
    "lasts",
    "layer",
    "line",
    "maquette_of",
    "name",
    "needs",
    "only",
    "option",
    "page",
    "part",
    "pass",
    "piece",
    "pieces",
    "plan",
    "q",
    "row",
    "rule",
    "schedule",
    "show",
    "starts_at",
    "state",
    "studio",
    "take",
    "text",
    "then",
    "thickness",
    "token",
    "unit",
    "when",
    "wish",
    "length",
    "kilns",
]
FIELD = re.compile(r'name="([\w-]+)"')
ODD_VALUES = {
    "5,000 digits": DIGITS,
    "just too large": str(2**63),
    "no number": "NaN",
    "not finite": "1e999",
    "negative": "-1",
    "another script's digits": "٣",
    "NUL": "a%00b",
    "a surrogate": "%ED%A0%80",
    "half a character": "%FF%C3",
    "broken escapes": "%%%zz%u0041",
    "year 0": "0000-00-00T25:61",
}


def assert_ours(answer):
    assert answer.status_code == 400
    assert b"<h1>This cannot be read</h1>" in answer.content


@pytest.mark.parametrize("name", NOT_READ)
@pytest.mark.parametrize("where", ["studio:sign_in", "studio:piece_new"])
def test_what_cannot_be_read_is_a_page_of_ours(signed_in, where, name):
    kind, body = NOT_READ[name]
    browser = signed_in() if where != "studio:sign_in" else Client()
    answer = browser.generic("POST", reverse(where), body, content_type=kind)
    assert_ours(answer)


@pytest.mark.parametrize("name", READ_ANYHOW)
def test_what_can_half_be_read_is_answered_by_its_form(signed_in, name):
    kind, body = READ_ANYHOW[name]
    for browser, where in ((Client(), "sign_in"), (signed_in(), "piece_new")):
        url = reverse(f"studio:{where}")
        answer = browser.generic("POST", url, body, content_type=kind)
        assert answer.status_code in (400, 422)


@pytest.mark.parametrize("name", ["bogus charset", "utf-7", "a codec that is no text"])
def test_not_even_the_database_is_asked(name):
    """No fixture for a database: a query would fail this test."""
    kind, body = NOT_READ[name]
    browser = Client(enforce_csrf_checks=True)
    assert_ours(browser.generic("POST", "/sign-in/", body, content_type=kind))


def test_a_host_that_is_none_is_told_the_same():
    assert_ours(Client().get("/sign-in/", headers={"host": "a b"}))


@pytest.mark.django_db
def test_signing_in_with_5000_digits_is_a_wrong_password():
    answer = Client().post(
        reverse("studio:sign_in"), {"username": DIGITS, "password": DIGITS}
    )
    assert answer.status_code in (400, 422)


@pytest.mark.parametrize("number", ["9" * 20, DIGITS])
@pytest.mark.parametrize("path", ["pieces/{}/", "pieces/{}/layers/{}/", "firings/{}/"])
def test_a_number_in_an_address_that_no_table_holds_is_not_there(
    signed_in, path, number
):
    assert signed_in().get("/" + path.format(number, number)).status_code == 404


def test_a_loggers_readings_keep_their_own_answer(db):
    answer = Client().generic(
        "POST",
        reverse("firing:readings_push"),
        b"\x00\xff",
        content_type="text/csv; charset=hex",
    )
    assert answer.status_code == 401
    assert answer.json()["problem"].startswith("This token opens nothing")


LEFT_OUT = {
    "studio:sign_out",
    "studio:process_up",
    "studio:ready",
    "studio:demo_remove",
}


@pytest.fixture
def owner(world):  # noqa: F811
    """The demo's owner, in a browser that gets a 500 as everybody would."""
    browser = Client(raise_request_exception=False)
    person = Membership.owned.for_studio(world).filter(role=Role.OWNER).first().person
    browser.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return browser


def read(answer):
    """Return what was answered; a file sent in pieces is closed by reading it."""
    return answer.getvalue()


def urls_of(studio):
    for address in ADDRESSES:
        if address.name not in LEFT_OUT:
            yield (
                address.name,
                reverse(address.name, kwargs=arguments_of(address, studio)),
            )


@pytest.mark.filterwarnings("ignore")  # Of dates that are none.
def test_no_address_breaks_on_an_odd_value(world, owner):  # noqa: F811
    values = list(ODD_VALUES.items())
    broken = []
    for number, (name, url) in enumerate(urls_of(world)):
        for turn in range(in_form(1, len(values))):
            told, value = values[(number + turn) % len(values)]
            sent = "&".join(f"{one}={value}" for one in NAMES)
            answer = owner.get(f"{url}?{sent}")
            read(answer)
            if answer.status_code >= 500:
                broken.append((name, told))
    assert not broken


def test_no_form_breaks_on_5000_digits(world, owner):  # noqa: F811
    broken = []
    for name, url in urls_of(world):
        page = owner.get(url)
        fields = FIELD.findall(read(page).decode(errors="replace"))
        with transaction.atomic():
            answer = owner.post(url, dict.fromkeys({*NAMES, *fields}, DIGITS))
            read(answer)
            transaction.set_rollback(True)
        if answer.status_code >= 500:
            broken.append(name)
    assert not broken
