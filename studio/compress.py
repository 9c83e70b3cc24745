"""Compresses pages, styles and scripts on their way out; pictures and papers are already."""

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

TEXTS = ("text/", "application/json", "application/javascript", "image/svg+xml")


class Compress(GZipMiddleware):
    """Django's compression, which hides lengths from who could guess secrets by them."""

    def process_response(
        self, request: HttpRequest, response: HttpResponseBase
    ) -> HttpResponseBase:
        """Compress what is text."""
        if not response.get("Content-Type", "").startswith(TEXTS):
            return response
        compressed: HttpResponseBase = super().process_response(request, response)
        return compressed
