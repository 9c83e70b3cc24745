"""PDFs that tests make and read back; they need the layout engine's own libraries."""

import io

import pypdf
import pytest

from studio.pdf import PangoMissing, pdf_available

needs_pango = pytest.mark.skipif(not pdf_available(), reason=PangoMissing.ADVICE)


def read_pdf(content: bytes) -> tuple[int, str]:
    """Return a PDF's pages, counted, and its words with single spaces between them."""
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    words = " ".join(page.extract_text() for page in pages).split()
    return len(pages), " ".join(words)
