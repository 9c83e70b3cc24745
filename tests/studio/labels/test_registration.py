"""Registration sheets, measured in the PDF itself: the marks to a tenth of a millimetre.

A4 is 210 × 297 mm (ISO 216), US Letter 8 1/2 × 11 in (ANSI/ASME Y14.1).
"""

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.models import Document, PaperSize
from studio.pdf import render_pdf
from studio.registration import AROUND_MM, MARGIN_MM, OVERLAP_MM, marks, tiling
from studio.registration_papers import (
    TEMPLATE,
    registration_context,
    registration_paper,
    tiling_of,
)
from studio.selectors.pieces import piece_view
from studio.services.pictures import add_picture
from tests import make
from tests.cast import NOW
from tests.commissions.build import image
from tests.papers import needs_pango, read_pdf
from tests.worker import run_waiting_jobs

PT_PER_MM = 72 / 25.4
PAPERS = {PaperSize.A4: (210.0, 297.0), PaperSize.LETTER: (215.9, 279.4)}


def piece_of(cast, *, width_mm=203.2, height_mm=127.0, layers=9):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=layers, title="Ebb")
    piece.width_mm, piece.height_mm = width_mm, height_mm
    piece.save()
    return piece


def printed(cast, piece, *, size=PaperSize.A4, face="front", numbers=(1, 2)):
    cast.studio.paper_size = size
    cast.studio.save()
    view = piece_view(cast.studio, piece.pk)
    paper = registration_paper(view, numbers, face=face)
    pdf = render_pdf(TEMPLATE, registration_context(paper), title="Sheets")
    return pdf, tiling_of(paper)


def boxes(page):
    """Return every path of a page as (left, top, width, height) [mm]."""
    height = page.get_height()
    found = []
    for one in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=9):
        left, bottom, right, top = one.get_bounds()
        values = (left, height - top, right - left, top - bottom)
        found.append(tuple(value / PT_PER_MM for value in values))
    return found


def crosses(page):
    """Return the middles of the marks that the sheet shows [mm from its left top]."""
    width, height = (side / PT_PER_MM for side in page.get_size())
    middles = [
        (x + w / 2, y + h / 2)
        for x, y, w, h in boxes(page)
        if w == pytest.approx(10, abs=0.5) and h == pytest.approx(10, abs=0.5)
    ]
    return [
        (x, y)
        for x, y in middles
        if MARGIN_MM <= x <= width - MARGIN_MM and MARGIN_MM <= y <= height - MARGIN_MM
    ]


def near(one, other, within_mm=0.1):
    return all(abs(a - b) <= within_mm for a, b in zip(one, other, strict=True))


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
@pytest.mark.parametrize("face", ["front", "back"])
class TestMaquette:
    """A maquette of 8 × 5 in fits on one sheet, laid on its side."""

    def test_marks_are_where_they_belong_on_every_sheet(self, cast, size, face):
        pdf, spread = printed(cast, piece_of(cast), size=size, face=face)
        pages = list(pypdfium2.PdfDocument(pdf))
        assert len(pages) == 2
        (tile,) = spread.tiles
        for page in pages:
            wanted = PAPERS[size][::-1] if spread.is_turned else PAPERS[size]
            for side, mm in zip(page.get_size(), wanted, strict=True):
                assert side / PT_PER_MM == pytest.approx(mm, abs=0.1)
            found = [
                (x - MARGIN_MM + tile.left_mm, y - MARGIN_MM + tile.top_mm)
                for x, y in crosses(page)
            ]
            assert len(found) == 4
            for mark in marks(203.2, 127.0):
                assert any(near(mark, one) for one in found), (mark, found)

    def test_outline_and_bar_are_at_true_scale(self, cast, size, face):
        pdf, _ = printed(cast, piece_of(cast), size=size, face=face)
        sizes = [box[2:] for box in boxes(pypdfium2.PdfDocument(pdf)[0])]
        for wanted in ((203.2, 127.0), (100.0, 4.0)):
            # The library counts the stroke of 0.2 mm on every side.
            drawn = tuple(side + 0.4 for side in wanted)
            assert any(near(drawn, one) for one in sizes), (wanted, sizes)

    def test_says_which_layer_and_which_face(self, cast, size, face):
        pdf, _ = printed(cast, piece_of(cast), size=size, face=face)
        _, text = read_pdf(pdf)
        assert "layer 2 of 9" in text
        assert ("mirrored" in text) == (face == "back")


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
def test_a_large_piece_is_tiled_and_its_marks_coincide(cast, size):
    piece = piece_of(cast, width_mm=500, height_mm=400)
    pdf, spread = printed(cast, piece, size=size, numbers=(1,))
    pages = list(pypdfium2.PdfDocument(pdf))
    assert len(pages) == len(spread.tiles) > 3
    seen = set()
    for page, tile in zip(pages, spread.tiles, strict=True):
        for x, y in crosses(page):
            place = (x - MARGIN_MM + tile.left_mm, y - MARGIN_MM + tile.top_mm)
            (mark,) = (one for one in marks(500, 400) if near(one, place))
            seen.add(mark)
    assert seen == set(marks(500, 400))
    _, text = read_pdf(pdf)
    assert f"sheet 1 of {len(pages)}: row 1, column 1" in text


@needs_pango
@pytest.mark.parametrize("size", PaperSize)
def test_every_sheet_of_a_large_piece_has_its_name_and_a_bar_to_measure(cast, size):
    piece = piece_of(cast, width_mm=500, height_mm=400)
    piece.title = "Low water at the end of the longest groyne " * 3
    piece.save()
    pdf, spread = printed(cast, piece, size=size, numbers=(7,))
    pages = list(pypdfium2.PdfDocument(pdf))
    count = len(spread.tiles)
    for number, page in enumerate(pages, start=1):
        told = " ".join(page.get_textpage().get_text_bounded().split())
        assert told.count(f"…, layer 7 of 9, sheet {number} of {count}: row") == 1
        assert "100 mm: measure it" in told
        bars = [box for box in boxes(page) if near(box[2:], (100.4, 4.4))]
        assert len(bars) == 1
        left, _, width, _ = bars[0]
        assert 0 < left < left + width < page.get_width() / PT_PER_MM
        wide = max(
            one.get_bounds()[2]
            for one in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT], max_depth=9)
        )
        assert wide <= page.get_width() - MARGIN_MM * PT_PER_MM + 1


def test_no_room_is_lost_on_a_piece_that_just_fits():
    spread = tiling(297 - 16 - 28, 210 - 16 - 28 - 18, paper_mm=(210, 297))
    assert len(spread.tiles) == 1


def _picture_matrix(pdf):
    page = pypdfium2.PdfDocument(pdf)[0]
    (one,) = page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_IMAGE], max_depth=9)
    return one.get_matrix()


@needs_pango
def test_the_picture_is_at_size_and_mirrored_for_the_back(cast):
    piece = piece_of(cast, width_mm=180, height_mm=120)
    layer = piece.layers.get(number=1)
    add_picture(
        studio=cast.studio,
        upload=image(size=(180, 120)),
        name="one.jpg",
        piece=piece,
        layer=layer,
        caption="",
        by=cast.owner,
        at=NOW,
    )
    front, _ = printed(cast, piece, numbers=(1,))
    back, _ = printed(cast, piece, numbers=(1,), face="back")
    for pdf in (front, back):
        matrix = _picture_matrix(pdf)
        assert abs(matrix.a) / PT_PER_MM == pytest.approx(180, abs=0.2)
        assert abs(matrix.d) / PT_PER_MM == pytest.approx(120, abs=0.2)
    assert _picture_matrix(front).a * _picture_matrix(back).a < 0


sides = st.floats(40, 900)


@given(width=sides, height=sides, paper=st.sampled_from(list(PAPERS.values())))
def test_tiles_show_everything_and_meet_in_the_middle(width, height, paper):
    spread = tiling(width, height, paper_mm=paper)
    rights = max(one.left_mm for one in spread.tiles) + spread.width_mm
    bottoms = max(one.top_mm for one in spread.tiles) + spread.height_mm
    assert min(one.left_mm for one in spread.tiles) <= -AROUND_MM
    assert rights >= width + AROUND_MM - 1e-6
    assert bottoms >= height + AROUND_MM - 1e-6
    for one in spread.tiles:
        for other in spread.tiles:
            if (other.row, other.column) == (one.row, one.column + 1):
                assert one.joins_x_mm[-1] == pytest.approx(other.joins_x_mm[0])
                shared = one.left_mm + spread.width_mm - other.left_mm
                assert shared == pytest.approx(OVERLAP_MM)


@needs_pango
def test_sheets_are_chosen_made_and_opened(cast, signed_in):
    piece = piece_of(cast)
    helper = signed_in("helper")
    base = f"/pieces/{piece.pk}/registration/"
    assert helper.get(base).status_code == 200
    asked = f"{base}?numbers=3&face=back"
    helper.post(asked)
    run_waiting_jobs()
    sent = b"".join(helper.get(f"{asked}&file=1").streaming_content)
    assert "layer 3 of 9" in read_pdf(sent)[1]


@pytest.mark.parametrize("query", ["numbers=99&face=back", "numbers=1&face=side"])
def test_nonsense_is_refused(cast, signed_in, query):
    piece = piece_of(cast)
    answer = signed_in("helper").get(f"/pieces/{piece.pk}/registration/?{query}")
    assert answer.status_code == 422
    assert not Document.across_studios.exists()
