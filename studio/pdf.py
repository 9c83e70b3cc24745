"""Turns a template into a PDF: the only place that knows WeasyPrint.

The apps' papers say what is in one. WeasyPrint needs the system's text-layout
libraries; it is loaded only when a PDF is made, so everything else works without it.
"""

import mimetypes
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.exceptions import SuspiciousFileOperation
from django.template.loader import render_to_string
from django.utils._os import safe_join
from PIL import ImageFile

from studio import bootstrap
from studio.errors import StudioError

# Templates name files as slowcool:static/studio/css/print.css, slowcool:media/a.webp
STATIC = "slowcool:static/"
MEDIA = "slowcool:media/"


class PangoMissing(StudioError):
    """This machine lacks the libraries for text layout in PDFs."""

    ADVICE = (
        "PDF files need the Pango libraries, which this machine lacks. Install them "
        f"with: {bootstrap.apt_command(list(bootstrap.PANGO_PACKAGES))}"
    )

    def __init__(self) -> None:
        super().__init__(self.ADVICE)


def pdf_available() -> bool:
    """Return whether PDFs can be made on this machine."""
    return bootstrap.pango_found()


def render_pdf(
    template: str, context: Mapping[str, Any], *, title: str, variant: str = ""
) -> bytes:
    """Render a template that extends ``pdf/base.html`` to the bytes of a PDF.

    `variant` is a standard that it keeps, such as "pdf/ua-1": tagged for listening.

    Raises
    ------
    PangoMissing
        When the system's libraries are not there; its text says how to get them.
    """
    html = render_to_string(template, {**context, "title": title})
    return html_to_pdf(html, variant=variant)


def html_to_pdf(html: str, *, variant: str = "") -> bytes:
    """Lay out a page that reads no files but this program's own static ones and media."""
    if not pdf_available():
        raise PangoMissing
    accepts_broken = ImageFile.LOAD_TRUNCATED_IMAGES
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    # Loading it makes Pillow accept broken pictures everywhere in this process.
    ImageFile.LOAD_TRUNCATED_IMAGES = accepts_broken

    class ClosedFetcher(URLFetcher):  # type: ignore[misc] # untyped, see above
        """Reads ``data:`` and our own two schemes; refuses everything else."""

        def __init__(self) -> None:
            super().__init__(allowed_protocols=("data",), allow_redirects=False)

        def fetch(
            self, url: str, headers: Mapping[str, str] | None = None
        ) -> URLFetcherResponse:
            path = own_file(url)
            if path is None:
                return super().fetch(url, headers)
            kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
            return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})

    page = HTML(string=html, url_fetcher=ClosedFetcher())
    written: bytes = page.write_pdf(pdf_variant=variant or None)
    return written


def own_file(url: str) -> Path | None:
    """Return the file behind one of our own addresses, or None for any other.

    Raises
    ------
    FileNotFoundError
        When the address leaves its folder or names nothing.
    """
    if not url.startswith((STATIC, MEDIA)):
        return None
    try:
        if url.startswith(STATIC):
            found = finders.find(unquote(url.removeprefix(STATIC)))
        else:
            found = safe_join(settings.MEDIA_ROOT, unquote(url.removeprefix(MEDIA)))
    except SuspiciousFileOperation:
        found = None
    if not isinstance(found, str) or not Path(found).is_file():
        raise FileNotFoundError(f"{url} names no file of ours.")
    return Path(found)
