"""Labels on sheets of common sizes, their codes read back by another library.

The sizes are what packages of such labels say; common practice, no source.
"""

import io

import pypdfium2
import pytest
import zxingcpp

from firing.firings import documents
from firing.loads.selectors.firings import firings
from studio.label_papers import (
    TEMPLATE,
    label_context,
    label_paper,
    usual_stock,
)
from studio.label_sheets import STOCKS, places, stock_of
from studio.models import Document, PaperSize
from studio.pdf import render_pdf
from studio.selectors.pieces import piece_view
from tests import make
from tests.papers import needs_pango, read_pdf
from tests.worker import run_waiting_jobs

PT_PER_MM = 72 / 25.4
SCALE = 4


@pytest.fixture
def view(cast):
    piece = make.piece(studio=cast.studio, glass=cast.glass, layers=12, title="Ebb")
    return piece_view(cast.studio, piece.pk)


def printed(view, stock, *, numbers=range(13), first=1):
    paper = label_paper(
        view, list(numbers), stock=stock, first=first, origin="https://studio.example"
    )
    return render_pdf(TEMPLATE, label_context(paper, stock), title="Labels")


def pages(pdf):
    document = pypdfium2.PdfDocument(pdf)
    return [
        (page.get_size(), page.render(scale=SCALE).to_pil().convert("L"))
        for page in document
    ]


def codes(image):
    """Return what each code says and where its middle is [mm from the left top]."""
    found = {}
    for one in zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode):
        place = one.position
        corners = (place.top_left, place.bottom_right)
        x = sum(corner.x for corner in corners) / 2 / SCALE / PT_PER_MM
        y = sum(corner.y for corner in corners) / 2 / SCALE / PT_PER_MM
        found[one.text] = (x, y)
    return found


class TestPlaces:
    @pytest.mark.parametrize("stock", STOCKS, ids=lambda one: one.key)
    def test_lie_on_the_paper_and_not_on_each_other(self, stock):
        (sheet,) = places(stock, stock.per_page, first=1)
        for x, y in sheet:
            assert x >= 0
            assert y >= 0
            assert x + stock.width_mm <= stock.page_width_mm + 0.01
            assert y + stock.height_mm <= stock.page_height_mm + 0.01
        for one in range(len(sheet)):
            for other in range(one):
                apart_x = abs(sheet[one][0] - sheet[other][0])
                apart_y = abs(sheet[one][1] - sheet[other][1])
                assert (
                    apart_x >= stock.width_mm - 0.01
                    or apart_y >= stock.height_mm - 0.01
                )

    def test_begin_where_a_used_sheet_is_free(self):
        stock = stock_of("a4-70x37")
        first, second = places(stock, 24, first=23)
        assert len(first) == 2
        assert first[0] == (70.0, 0.5 + 7 * 37)
        assert second[0] == (0.0, 0.5)

    @pytest.mark.parametrize("first", [0, 25])
    def test_that_a_sheet_does_not_have_are_refused(self, first):
        with pytest.raises(ValueError, match="24 labels"):
            places(stock_of("a4-70x37"), 1, first=first)


@needs_pango
class TestPrint:
    @pytest.mark.parametrize("stock", STOCKS, ids=lambda one: one.key)
    def test_every_code_opens_its_page(self, view, stock):
        found = {}
        for size, image in pages(printed(view, stock)):
            assert size[0] / PT_PER_MM == pytest.approx(stock.page_width_mm, abs=0.1)
            assert size[1] / PT_PER_MM == pytest.approx(stock.page_height_mm, abs=0.1)
            found |= codes(image)
        base = f"https://studio.example/pieces/{view.piece.pk}/"
        assert set(found) == {base, *(f"{base}layers/{n}/" for n in range(1, 13))}

    def test_codes_lie_inside_their_labels(self, view):
        stock = stock_of("letter-1x2.6")
        ((_, image),) = pages(printed(view, stock, first=4))
        ((*_,),) = (places(stock, 13, first=4),)
        (sheet,) = places(stock, 13, first=4)
        middles = list(codes(image).values())
        assert len(middles) == 13
        for x, y in middles:
            assert any(
                left < x < left + stock.width_mm / 2
                and abs(top + stock.height_mm / 2 - y) < 0.5
                for left, top in sheet
            )

    def test_has_its_words(self, view):
        _, text = read_pdf(printed(view, STOCKS[0]))
        assert "Layer 7 of 12" in text
        assert "Layer 12 of 12" in text
        assert "Ebb" in text

    def test_a_long_title_stays_on_its_label(self, cast):
        piece = make.piece(
            studio=cast.studio, glass=cast.glass, layers=2, title="Slack water " * 9
        )
        _, text = read_pdf(printed(piece_view(cast.studio, piece.pk), STOCKS[-1]))
        assert "…" in text


def test_the_usual_sheet_is_of_the_studios_paper(cast):
    cast.studio.paper_size = PaperSize.LETTER
    assert usual_stock(cast.studio).title.startswith("Letter")
    cast.studio.paper_size = PaperSize.A4
    assert usual_stock(cast.studio).title.startswith("A4")


@needs_pango
def test_labels_are_chosen_made_and_opened(cast, view, signed_in):
    helper = signed_in("helper")
    base = f"/pieces/{view.piece.pk}/labels/"
    assert helper.get(base).status_code == 200
    asked = f"{base}?numbers=0&numbers=7&stock=a4-70x37&first=3"
    assert "is not made yet" in helper.get(asked).content.decode()
    helper.post(asked)
    run_waiting_jobs()
    sent = helper.get(f"{asked}&file=1")
    pdf = b"".join(sent.streaming_content)
    ((_, image),) = pages(io.BytesIO(pdf).getvalue())
    assert f"http://testserver/pieces/{view.piece.pk}/layers/7/" in codes(image)


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("numbers=1&stock=a4-70x37&first=25", "has 24 labels"),
        ("numbers=99&stock=a4-70x37&first=1", "not one of the available choices"),
        ("numbers=1&stock=x&first=1", "not one of the available choices"),
        ("numbers=1&stock=a4-70x37&first=two", "whole number"),
    ],
)
def test_nonsense_is_refused_in_words(view, signed_in, query, told):
    answer = signed_in("helper").get(f"/pieces/{view.piece.pk}/labels/?{query}")
    assert answer.status_code == 422
    assert told in answer.content.decode()
    assert not Document.across_studios.exists()


def test_another_studios_label_opens_nothing(view, strangers, signed_in):
    other = signed_in("owner", strangers)
    assert other.get(f"/pieces/{view.piece.pk}/layers/7/").status_code == 404


@needs_pango
def test_the_door_sign_says_until_when_and_opens_the_firing(demo):
    firing = firings(demo).filter(finished_at__isnull=True).first()
    sign = documents.door_sign(
        firing, path=f"/firings/{firing.pk}/", origin="https://studio.example"
    )
    pdf = render_pdf(
        documents.SIGN_TEMPLATE, documents.sign_context(sign), title="Sign"
    )
    count, text = read_pdf(pdf)
    assert count == 1
    assert "Closed until" in text
    assert sign.day in text
    ((_, image),) = pages(pdf)
    assert list(codes(image)) == [f"https://studio.example/firings/{firing.pk}/"]
