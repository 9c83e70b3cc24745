"""The log: what goes wrong is told, and no private link with it."""

import logging
import re
from logging.config import DictConfigurator

import pytest
from django.conf import settings
from django.urls import reverse

from studio.logs import PrivateRecord, without_secrets
from studio.services.accounts import password_link

TOKEN = "D6DgqW0QhLh1Utoq6F_g5GG7VLkWmNLpxGh9hlkpKRLu67SVW_OG_RbKbcO-7KGh"


@pytest.fixture
def log(caplog):
    """Write what is logged as the settings have it, and return a way to read it."""
    set_up = DictConfigurator(settings.LOGGING)
    caplog.handler.setFormatter(
        set_up.configure_formatter(dict(settings.LOGGING["formatters"]["plain"]))
    )
    assert logging.getLogRecordFactory() is PrivateRecord
    return lambda: caplog.text


def test_a_fault_on_a_clients_page_is_told_without_the_link(
    client, log, monkeypatch, db
):
    def broken(token):
        raise RuntimeError(f"cannot read /c/{token}/")

    monkeypatch.setattr("commissions.sharing.find_link", broken)
    client.raise_request_exception = False
    address = reverse("commissions:shared_page", args=[TOKEN])
    assert client.get(address).status_code == 500
    told = log()
    assert "Internal Server Error: /c/.../" in told
    assert "RuntimeError: cannot read /c/.../" in told
    assert TOKEN not in told


def test_a_link_to_set_a_password_is_not_logged(cast, log):
    link = password_link(cast.owner)
    logging.getLogger("django.server").warning('"GET %s HTTP/1.1" 302 0', link)
    assert "/password/new/" in log()
    assert link.split("/")[-2] not in log()


def test_the_link_of_an_invitation_is_not_logged(log):
    link = reverse("studio:invitation_link", args=[TOKEN])
    logging.getLogger("django.server").warning('"GET %s HTTP/1.1" 302 0', link)
    assert "/invitation/..." in log()
    assert TOKEN not in log()


def test_other_lines_stay_as_they_are(log):
    logging.getLogger("studio.jobs").warning("Job %s (%s) waits", 7, "a/c/b")
    assert "WARNING studio.jobs: Job 7 (a/c/b) waits" in log()


@pytest.mark.parametrize(
    "text",
    [
        f"GET /c/{TOKEN}/quote.pdf HTTP/1.1",
        f"GET /%63/{TOKEN}/",
        f"GET /sign-in/?next=%2Fc%2f{TOKEN}%2F",
        f"Not Found: /password/new/MQ/{TOKEN[:20]}/",
        f"Not Found: /%70assword/n%65w/MQ/dip1v2-{TOKEN[:20].lower()}/",
        f"Not Found: /invitations/{TOKEN[:12]}/",
        f"Not Found: /%69nvitation%2F{TOKEN[:12]}/",
        f"Not Found: /elsewhere/{TOKEN.replace('D', '%44')}/",
        f"Authorization: Bearer {TOKEN}",
    ],
)
def test_every_way_to_write_a_secret_is_shortened(text):
    told = without_secrets(text).lower()
    for part in (TOKEN[:12], TOKEN[20:]):
        assert part.lower() not in told
    assert "..." in without_secrets(text)


@pytest.mark.parametrize(
    "text",
    [
        "Studio 1 was deleted",
        "/commissions/12/ c/d",
        f"SHA-256 {'0af3' * 16}",
        "a/c/b",
        "75 %, a%20b",
    ],
)
def test_what_is_no_secret_stays(text):
    assert without_secrets(text) == text


def test_what_is_sent_forges_no_line(log):
    forged = "2026-01-01 00:00:00+0000 INFO studio.jobs: Job 1 (a) done"
    try:
        raise ValueError(f"no\n{forged}")
    except ValueError:
        logging.getLogger("studio.jobs").exception("Name: %s", f"a\r\n{forged}")
    assert forged in log()
    assert not any(line.startswith(forged) for line in log().splitlines())
    assert "Name: a\\r\\n2026" in log()


def test_every_line_says_its_offset_from_utc(log):
    logging.getLogger("studio.jobs").warning("Now")
    assert re.match(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d\+0000 WARNING", log())
