"""What stops a page although the program is right: the disk, the database, its lock.

Such a page is a 503 with what to do, and with what was typed ready to be sent again. It
asks nothing of the database.
"""

import errno
import logging
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from django.db import DatabaseError, InterfaceError
from django.http import (
    HttpRequest,
    HttpResponse,
    HttpResponseForbidden,
    UnreadablePostError,
)
from django.middleware.csrf import CsrfViewMiddleware, get_token
from django.template import loader
from redis.exceptions import ConnectionError as NoRedis

RETRY_AFTER_S = "10"


class Outage(StrEnum):
    """A kind of outage."""

    FULL = "full"
    READ_ONLY = "read-only"
    BUSY = "busy"
    DAMAGED = "damaged"
    GONE = "gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What a page says of an outage."""

    title: str
    text: str
    typed: str = (
        "This was not saved. What you typed is kept on this page: leave it open and send "
        "it again."
    )


WORDS = {
    Outage.FULL: Words(
        title="The disk is full",
        text="Nothing can be saved until whoever runs this studio's server makes room "
        "on its disk. Everything saved before is there, and can be read.",
    ),
    Outage.READ_ONLY: Words(
        title="Nothing can be saved now",
        text="The disk or folder with the studio's data may only be read. Whoever runs "
        "the server must make it writable again. Everything saved before can be read.",
    ),
    Outage.BUSY: Words(
        title="Busy just now",
        text="Others are saving something long. Send yours again in a moment.",
    ),
    Outage.DAMAGED: Words(
        title="The database is damaged",
        text="Whoever runs the server should stop Slowcool, keep the damaged file, and "
        "restore the last backup (python3 manage.py restore).",
    ),
    Outage.GONE: Words(
        title="The database does not answer",
        text="It may be starting again. If it takes longer than a few minutes, tell "
        "whoever runs this studio's server.",
        # It may have gone between saving and saying so.
        typed="This may not have been saved. What you typed is kept on this page: leave "
        "it open, and before you send it again, look whether it is there already.",
    ),
}

_BY_ERRNO = {
    errno.ENOSPC: Outage.FULL,
    errno.EDQUOT: Outage.FULL,
    errno.EROFS: Outage.READ_ONLY,
    # What a command run as root left behind, nobody else may change.
    errno.EACCES: Outage.READ_ONLY,
    errno.EPERM: Outage.READ_ONLY,
}
# The first words of SQLite's names of errors; sqlite.org/rescode.html lists them.
_BY_SQLITE = {
    "SQLITE_FULL": Outage.FULL,
    # Its files grow when it makes its log of changes and that log's index.
    "SQLITE_IOERR_SHM": Outage.FULL,
    "SQLITE_IOERR_WRITE": Outage.FULL,
    "SQLITE_IOERR": Outage.GONE,
    "SQLITE_READONLY": Outage.READ_ONLY,
    "SQLITE_BUSY": Outage.BUSY,
    "SQLITE_LOCKED": Outage.BUSY,
    "SQLITE_CORRUPT": Outage.DAMAGED,
    "SQLITE_NOTADB": Outage.DAMAGED,
    "SQLITE_CANTOPEN": Outage.GONE,
}
# PostgreSQL's codes, by appendix A of its manual; the class, or one code of it.
_BY_SQLSTATE = {
    "53100": Outage.FULL,
    "25006": Outage.READ_ONLY,
    "40001": Outage.BUSY,
    "40P01": Outage.BUSY,
    "55P03": Outage.BUSY,
    "53300": Outage.BUSY,
    "08": Outage.GONE,
    "57P": Outage.GONE,
    "XX001": Outage.DAMAGED,
    "XX002": Outage.DAMAGED,
}


def outage_of(problem: BaseException | None) -> Outage | None:
    """Return the outage behind an exception, or none if it is a fault of the program."""
    for one in _chain(problem):
        found = None
        if isinstance(one, NoRedis):
            found = Outage.GONE
        elif isinstance(one, OSError):
            found = _BY_ERRNO.get(one.errno or 0)
        elif isinstance(one, DatabaseError | InterfaceError):
            found = _of_database(one)
        if found is not None:
            return found
    return None


def _chain(problem: BaseException | None) -> Iterator[BaseException]:
    while problem is not None:
        yield problem
        problem = problem.__cause__ or problem.__context__


def _of_database(problem: Exception) -> Outage | None:
    cause = problem.__cause__
    if name := getattr(cause, "sqlite_errorname", None):
        return next(
            (o for start, o in _BY_SQLITE.items() if name.startswith(start)), None
        )
    if code := getattr(cause, "sqlstate", None):
        return next(
            (o for start, o in _BY_SQLSTATE.items() if code.startswith(start)), None
        )
    # Without a code it never reached the server, or lost it on the way.
    kinds = {kind.__name__ for kind in type(cause).__mro__}
    is_lost = hasattr(cause, "sqlstate") and kinds & {
        "OperationalError",
        "InterfaceError",
    }
    return Outage.GONE if is_lost else None


def outage_page(request: HttpRequest, outage: Outage) -> HttpResponse:
    """Answer with what happened; what was typed is on the page, to be sent again.

    Passwords are typed again and files chosen again. For htmx it is the sentence alone,
    which `page.js` shows above the page as it stands.
    """
    words = WORDS[outage]
    if "HX-Request" in request.headers and "HX-Boosted" not in request.headers:
        typed = (
            words.typed if request.method == "POST" else "What you typed is still here."
        )
        text = f"{words.title}. {words.text} {typed}"
        response = HttpResponse(text, content_type="text/plain; charset=utf-8")
    else:
        context = {
            "words": words,
            "form": _again(request),
            "is_form": request.method == "POST",
            "path": request.path,
        }
        response = HttpResponse(loader.get_template("503.html").render(context))
    response.status_code = 503
    response["Retry-After"] = RETRY_AFTER_S
    response["Cache-Control"] = "no-store"
    return response


def _again(request: HttpRequest) -> dict[str, object] | None:
    """Return what it takes to send a form again; none if it is not there, or not ours."""
    try:
        if request.method != "POST" or not _is_ours(request):
            return None
        given, files = request.POST, request.FILES
    except (OSError, UnreadablePostError):
        return None
    secret = [name for name in given if "password" in name]
    return {
        "action": request.get_full_path(),
        "token": get_token(request),
        "fields": [
            (name, value)
            for name, values in given.lists()
            for value in values
            if name != "csrfmiddlewaretoken" and name not in secret
        ],
        "secrets": secret,
        "files": list(files.lists()),
    }


class _Check(CsrfViewMiddleware):
    """Says whether a form came from a page of ours, without the page for those that do not."""

    def _reject(self, request: HttpRequest, reason: str) -> HttpResponseForbidden:
        return HttpResponseForbidden(reason)


def _is_ours(request: HttpRequest) -> bool:
    """Return whether the form may be given a token: it may not have been checked yet.

    An upload that broke off reads as an empty form, and holds no token either.
    """
    # Any view will do where none was chosen yet: it only says whether forms are checked.
    view = request.resolver_match.func if request.resolver_match else outage_page
    return _Check(HttpResponse).process_view(request, view, (), {}) is None


class InOneLine(logging.Filter):
    """Logs an outage in one line: with all its calls, each page would be a hundred.

    While it lasts every page meets it, and a full disk may hold the log too.
    """

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every line pass, shortened if an outage is behind it."""
        problem = record.exc_info[1] if record.exc_info else None
        if (outage := outage_of(problem)) is not None:
            told = " ".join(str(problem).split())
            record.args = (record.getMessage(), outage, told)
            record.msg = "%s (%s: %s)"
            record.exc_info = record.exc_text = None
        return True
