"""Keeps browsers and proxies from keeping pages: the next person at a shared tablet
must not find the last one's with the back button.

Static files are answered before this; they may be kept.
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse


class NoStore:
    """Says of every answer of a view that nobody may store it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if "no-store" not in response.get("Cache-Control", ""):
            response["Cache-Control"] = "private, no-store"
        return response
