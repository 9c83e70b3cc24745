"""PDFs: real bytes from a template, and no file or address but our own."""

import io
import os
import subprocess
import sys

import pypdf
import pytest
from django.template import engines

from studio import bootstrap, pdf
from tests.papers import needs_pango, read_pdf


@pytest.fixture
def paper(monkeypatch):
    """Let a test write its template on the spot."""

    def render(body: str, **context) -> bytes:
        template = engines["django"].from_string(
            "{% extends 'pdf/base.html' %}{% block paper %}" + body + "{% endblock %}"
        )
        monkeypatch.setattr(
            pdf, "render_to_string", lambda name, values: template.render(values)
        )
        return pdf.render_pdf("made/here.html", context, title="Quote 7")

    return render


@needs_pango
def test_pages_words_and_title(paper):
    content = paper(
        '<h1>{{ who }}</h1><p class="x">1500 °F</p>'
        '<div class="print-page-break"></div>',
        who="Ebb & flow",
    )
    assert content.startswith(b"%PDF-")
    pages, text = read_pdf(content)
    assert pages >= 1
    assert "Ebb & flow" in text
    assert "1500 °F" in text
    assert pypdf.PdfReader(io.BytesIO(content)).metadata.title == "Quote 7"


@needs_pango
def test_what_people_typed_is_text_and_never_markup(paper):
    _, text = read_pdf(
        paper("<p>{{ typed }}</p>", typed="<b>bold</b> <img src=file:///x>")
    )
    assert "<b>bold</b>" in text


@needs_pango
@pytest.mark.parametrize(
    "markup",
    [
        '<img src="file:///etc/hostname">',
        '<img src="http://127.0.0.1:9/x.png">',
        '<link rel="stylesheet" href="http://127.0.0.1:9/x.css">',
        '<link rel="attachment" href="file:///etc/hostname">',
        "<style>@import url(file:///etc/hostname);</style>",
        '<object data="file:///etc/hostname"></object>',
        '<img src="slowcool:media/../../etc/hostname">',
        '<img src="slowcool:static/../settings.py">',
    ],
)
def test_addresses_that_are_not_ours_are_never_opened(paper, markup, monkeypatch):
    opened = []
    monkeypatch.setattr("urllib.request.FileHandler.file_open", opened.append)
    monkeypatch.setattr("urllib.request.HTTPHandler.http_open", opened.append)
    content = paper(f"<p>Still made</p>{markup}")
    pages, text = read_pdf(content)
    assert "Still made" in text
    assert opened == []
    assert not pypdf.PdfReader(io.BytesIO(content)).attachments


@needs_pango
def test_broken_pictures_stay_refused_after_a_pdf_was_made():
    """In a process of its own: the layout engine changes Pillow when first loaded."""
    code = (
        "import django; django.setup()\n"
        "from PIL import ImageFile\n"
        "from studio.pdf import html_to_pdf\n"
        "assert html_to_pdf('<p>x</p>').startswith(b'%PDF')\n"
        "print(ImageFile.LOAD_TRUNCATED_IMAGES)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "tests.settings"},
        cwd=bootstrap.ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "False"


@pytest.mark.parametrize(
    "url",
    [
        "slowcool:media/../secret",
        "slowcool:media/%2e%2e/secret",
        "slowcool:media//etc/hostname",
        "slowcool:media/not-there.webp",
        "slowcool:static/../settings.py",
        "slowcool:static/not-there.css",
    ],
)
def test_own_address_that_leaves_its_folder_is_refused(url, settings):
    (settings.VAR_DIR / "secret").touch()
    with pytest.raises(FileNotFoundError, match="names no file of ours"):
        pdf.own_file(url)


def test_own_files_are_found(media_folder):
    media_folder.mkdir(parents=True)
    (media_folder / "a picture.webp").write_bytes(b"x")
    found = pdf.own_file("slowcool:media/a%20picture.webp")
    assert found == media_folder / "a picture.webp"
    style = pdf.own_file("slowcool:static/studio/css/tokens.css")
    assert style is not None
    assert style.name == "tokens.css"
    assert pdf.own_file("data:text/plain,x") is None


def test_without_pango_the_advice_names_the_command(monkeypatch):
    monkeypatch.setattr(bootstrap, "PANGO_LIBRARIES", ("libnowhere.so.0",))
    assert not pdf.pdf_available()
    with pytest.raises(pdf.PangoMissing, match="apt-get install --yes libpango-1.0-0"):
        pdf.html_to_pdf("<p>x</p>")
