"""The drawings on paper: the same sheet, resolved, inside the SVG."""

from io import BytesIO
from pathlib import Path

from django.template.loader import render_to_string
from pypdf import PdfReader

from firing.drawings import paper_style
from studio.drawings.edge_view import build_edge_view
from studio.drawings.paper_style import drawing_style
from studio.pdf import html_to_pdf
from studio.styleguide import sample_layers
from tests.papers import needs_pango


def test_nothing_is_left_to_resolve():
    stack, heat = drawing_style(), paper_style.drawing_style()
    assert ".band-burnt{fill:#198163;stroke:#1e5341}" in stack
    assert ".heat-stop-6{stop-color:#70170e}" in heat
    for css in (stack, heat):
        assert "var(" not in css
        assert "light-dark" not in css
        assert "</" not in css


@needs_pango
def test_an_edge_view_prints_in_its_own_green(tmp_path: Path):
    view = build_edge_view(sample_layers(linked=True), key="p", large=True)
    svg = render_to_string(
        "components/_edge_view.html", {"view": view, "print_style": drawing_style()}
    )
    page = PdfReader(BytesIO(html_to_pdf(svg))).pages[0]
    red, green, blue = (int("198163"[i : i + 2], 16) / 255 for i in (0, 2, 4))
    operators = page.get_contents().get_data().decode("latin-1")
    assert f"{red:.4f}"[:5] in operators
    assert f"{green:.4f}"[:5] in operators
    assert f"{blue:.4f}"[:5] in operators
