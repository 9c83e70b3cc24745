"""Which faults are the disk's or the database's, and what a page then says."""

import errno
import sqlite3

import psycopg
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.files.uploadhandler import TemporaryFileUploadHandler
from django.db import DatabaseError, InterfaceError, OperationalError
from django.http import QueryDict
from django.test import Client as Browser
from django.test import RequestFactory
from redis.exceptions import ConnectionError as NoRedis

from studio.outages import Outage, outage_of, outage_page
from tests.studio.views.pages import address, text_of


def raised(outer, inner):
    """Return an exception as Django raises it: with the driver's own as its cause."""
    outer.__cause__ = inner
    return outer


def of_sqlite(name):
    inner = sqlite3.OperationalError("told")
    inner.sqlite_errorname = name
    return raised(OperationalError("told"), inner)


def of_postgres(state):
    class Told(psycopg.OperationalError):
        sqlstate = state

    return raised(OperationalError("told"), Told("told"))


def checked_form(path, fields):
    """Return a form as a view gets it."""
    request = RequestFactory().post(path, fields)
    request.csrf_processing_done = True
    return request


@pytest.mark.parametrize(
    ("problem", "expected"),
    [
        (of_sqlite("SQLITE_FULL"), Outage.FULL),
        (of_sqlite("SQLITE_IOERR_SHMSIZE"), Outage.FULL),
        (of_sqlite("SQLITE_READONLY_DBMOVED"), Outage.READ_ONLY),
        (of_sqlite("SQLITE_BUSY"), Outage.BUSY),
        (of_sqlite("SQLITE_BUSY_SNAPSHOT"), Outage.BUSY),
        (of_sqlite("SQLITE_CORRUPT"), Outage.DAMAGED),
        (of_sqlite("SQLITE_NOTADB"), Outage.DAMAGED),
        (of_sqlite("SQLITE_CANTOPEN"), Outage.GONE),
        (of_sqlite("SQLITE_ERROR"), None),
        # Appendix A of PostgreSQL's manual, "PostgreSQL Error Codes".
        (of_postgres("53100"), Outage.FULL),
        (of_postgres("25006"), Outage.READ_ONLY),
        (of_postgres("40P01"), Outage.BUSY),
        (of_postgres("57P01"), Outage.GONE),
        (of_postgres("08006"), Outage.GONE),
        (of_postgres(None), Outage.GONE),
        (of_postgres("42P01"), None),
        (
            raised(InterfaceError("closed"), psycopg.InterfaceError("closed")),
            Outage.GONE,
        ),
        (OSError(errno.ENOSPC, "full"), Outage.FULL),
        (OSError(errno.EDQUOT, "quota"), Outage.FULL),
        (OSError(errno.EROFS, "read-only"), Outage.READ_ONLY),
        (OSError(errno.EACCES, "denied"), Outage.READ_ONLY),
        (OSError(errno.EPERM, "not permitted"), Outage.READ_ONLY),
        (OSError(errno.EINVAL, "invalid"), None),
        (NoRedis("refused"), Outage.GONE),
        (raised(ValueError("outer"), of_sqlite("SQLITE_FULL")), Outage.FULL),
        (DatabaseError("no cause"), None),
        (KeyError("a fault"), None),
        (None, None),
    ],
)
def test_outages_are_told_from_faults(problem, expected):
    assert outage_of(problem) == expected


def test_every_outage_has_a_page():
    for outage in Outage:
        page = outage_page(RequestFactory().get("/kilns/"), outage)
        assert page.status_code == 503
        assert page["Retry-After"] == "10"
        assert 'href="/kilns/"' in page.content.decode()


def test_what_was_typed_can_be_sent_again_but_no_password():
    given = QueryDict(mutable=True)
    given.setlist("note", ["\n<b>one</b>", "two"])
    given["password"] = "a secret word"
    page = outage_page(
        checked_form("/pieces/3/?part=2", dict(given.lists())), Outage.BUSY
    ).content.decode()
    assert 'action="/pieces/3/?part=2"' in page
    assert page.count('name="note"') == 2
    assert "\n&lt;b&gt;one&lt;/b&gt;</textarea>" in page
    assert "a secret word" not in page
    assert 'type="password" id="again-password"' in page
    assert "multipart" not in page


@pytest.mark.parametrize("outage", Outage)
def test_only_a_server_that_is_gone_may_have_saved_what_it_did_not_answer(outage):
    page = outage_page(checked_form("/", {"a": "1"}), outage).content.decode()
    is_unsure = outage == Outage.GONE
    assert ("This may not have been saved." in page) == is_unsure
    assert ("This was not saved." in page) != is_unsure


@pytest.fixture
def browser(cast):
    """Return a browser whose forms are checked, with a cookie for them."""
    strict = Browser(enforce_csrf_checks=True, raise_request_exception=False)
    strict.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    strict.get(address("yours"))
    return strict


def token_of(browser):
    return {"csrfmiddlewaretoken": browser.cookies["csrftoken"].value}


def posted(browser, fields, origin="http://testserver"):
    return browser.post(address("my_units"), fields, headers={"Origin": origin})


@pytest.mark.parametrize(
    ("has_token", "origin", "is_ours"),
    [
        (True, "http://testserver", True),
        (True, "http://testserver:8001", False),
        (False, "http://testserver", False),
    ],
)
def test_an_outage_before_forms_are_checked_gives_back_only_ours(
    browser, monkeypatch, has_token, origin, is_ours
):
    def break_off(*_):
        raise of_sqlite("SQLITE_BUSY")

    monkeypatch.setattr("studio.middleware.people.membership_of", break_off)
    fields = {"length_unit": "in"} | (token_of(browser) if has_token else {})
    answer = posted(browser, fields, origin)
    assert answer.status_code == 503
    assert ("Send it again" in text_of(answer)) == is_ours
    assert ("could not be kept" in text_of(answer)) != is_ours


def test_an_upload_that_breaks_off_is_not_said_to_be_kept(
    browser, monkeypatch, settings
):
    def is_full(handler, *_):
        handler.file.close()
        raise OSError(errno.ENOSPC, "full")

    settings.FILE_UPLOAD_MAX_MEMORY_SIZE = 1
    monkeypatch.setattr(TemporaryFileUploadHandler, "receive_data_chunk", is_full)
    file = SimpleUploadedFile("tide.jpg", b"much")
    fields = {"caption": "Low tide", "picture": file} | token_of(browser)
    answer = posted(browser, fields)
    assert answer.status_code == 503
    assert "what you typed could not be kept" in text_of(answer)
    assert "Send it again" not in text_of(answer)


def test_every_file_of_a_form_is_chosen_again():
    files = [SimpleUploadedFile(f"{n}.jpg", b"x") for n in range(3)]
    form = checked_form("/", {"uploads": files, "reference": files[0]})
    page = outage_page(form, Outage.BUSY).content.decode()
    assert "Choose 0.jpg, 1.jpg, 2.jpg again" in page
    assert 'name="uploads" multiple>' in page
    assert 'name="reference">' in page
    assert 'enctype="multipart/form-data"' in page


def test_htmx_is_told_too_that_it_may_have_been_saved():
    request = RequestFactory().post("/", {"a": "1"}, headers={"HX-Request": "true"})
    told = outage_page(request, Outage.GONE).content.decode()
    assert "This may not have been saved." in told


def test_htmx_gets_the_sentence_alone():
    request = RequestFactory().post("/", {"a": "1"}, headers={"HX-Request": "true"})
    page = outage_page(request, Outage.FULL)
    assert page["Content-Type"].startswith("text/plain")
    assert page.content.decode().startswith("The disk is full.")


def test_an_outage_is_one_line_in_the_log_and_a_fault_is_told_whole(
    client, caplog, monkeypatch
):
    def break_with(problem):
        def broken(*_):
            raise problem

        monkeypatch.setattr("studio.views.health._disk", broken)

    client.raise_request_exception = False
    break_with(raised(OperationalError("no\nanswer"), of_postgres("57P01").__cause__))
    assert client.get("/readyz").status_code == 503
    assert [line.getMessage() for line in caplog.records] == [
        "Service Unavailable: /readyz (gone: no answer)"
    ]
    assert "Traceback" not in caplog.text
    break_with(RuntimeError("a fault"))
    assert client.get("/readyz").status_code == 500
    assert "Traceback" in caplog.text
