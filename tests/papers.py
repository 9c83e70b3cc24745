"""PDFs that tests make and read back; they need the layout engine's own libraries."""

import io

import pypdf
import pytest
from pypdf.generic import DictionaryObject

from studio.pdf import PangoMissing, pdf_available

needs_pango = pytest.mark.skipif(not pdf_available(), reason=PangoMissing.ADVICE)


def read_pdf(content: bytes) -> tuple[int, str]:
    """Return a PDF's pages, counted, and its words with single spaces between them."""
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    words = " ".join(page.extract_text() for page in pages).split()
    return len(pages), " ".join(words)


def paper_sizes(content: bytes) -> set[tuple[int, int]]:
    """Return the sizes of a PDF's pages in points, width first."""
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    return {(round(one.mediabox.width), round(one.mediabox.height)) for one in pages}


def paper_faces(content: bytes) -> set[str]:
    """Return the families of the faces in a PDF, its drawings' included."""
    faces: set[str] = set()

    def read(resources: DictionaryObject) -> None:
        for font in resources.get("/Font", {}).values():
            name = font.get_object()["/BaseFont"].removeprefix("/")
            faces.add(name.partition("+")[2].partition("-")[0] or name)
        for inner in resources.get("/XObject", {}).values():
            read(inner.get_object().get("/Resources", DictionaryObject()))

    for page in pypdf.PdfReader(io.BytesIO(content)).pages:
        read(page["/Resources"])
    return faces


def picture_of(content: bytes, *, dots_per_point: float = 4):
    """Return the first page as it looks, in greys; skips where nothing can draw it."""
    pdfium = pytest.importorskip("pypdfium2")
    page = pdfium.PdfDocument(content)[0]
    return page.render(scale=dots_per_point).to_pil().convert("L")
