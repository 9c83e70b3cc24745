"""Answers requests that no browser sends from our pages: 400, before a view sees them.

A character set that is none, a broken upload, a number of 5,000 digits. One place for
all, or each view would have its own hole.
"""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import BadRequest
from django.db import DataError
from django.http import HttpRequest, HttpResponse, UnreadablePostError

from studio.views.errors import bad_request

TEXT_IS = {"utf-8", "utf8", "us-ascii", "ascii"}
FORMS = {"application/x-www-form-urlencoded", "multipart/form-data"}
# What Django's readers of forms raise on names of character sets and broken parts.
UNREADABLE = (
    UnicodeError,
    LookupError,
    ValueError,
    TypeError,
    AttributeError,
    UnreadablePostError,
)
TOO_MANY_DIGITS = "Exceeds the limit"


class OddRequests:
    """Refuses what cannot be read, and what no table can hold."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        charset = (request.content_params or {}).get("charset", "")
        if charset and charset.lower() not in TEXT_IS:
            if request.content_type in FORMS:
                raise BadRequest("Forms come in UTF-8.")
            # The view reads the body itself; the address is UTF-8 all the same.
            request.encoding = "utf-8"
        _read_carefully(request)
        return self.get_response(request)

    def process_exception(
        self, request: HttpRequest, exception: Exception
    ) -> HttpResponse | None:
        """Answer a value that no table holds: too large, a NUL, half a character."""
        is_odd = isinstance(exception, (DataError, OverflowError, UnicodeEncodeError))
        has_digits = isinstance(exception, ValueError) and str(exception).startswith(
            TOO_MANY_DIGITS
        )
        return bad_request(request, exception) if is_odd or has_digits else None


def _read_carefully(request: Any) -> None:
    """Make a body that cannot be read a bad request, whenever a view looks at it.

    Not before: a logger's readings are no form, whatever their header says. Django has
    no public place for this; the attack's test tells when that changes.
    """
    load = request._load_post_and_files

    def load_or_refuse() -> None:
        try:
            load()
        except UNREADABLE as problem:
            request._mark_post_parse_error()
            raise BadRequest("The form cannot be read.") from problem

    request._load_post_and_files = load_or_refuse
