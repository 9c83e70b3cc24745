"""Labels for a piece and its layers: their words, their codes, their paper."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from typing import Any

import segno

from studio.documents import PaperKey, words_sha256
from studio.label_sheets import (
    LETTER,
    LETTER_WIDTH_MM,
    STOCKS,
    LabelStock,
    fitted,
    places,
)
from studio.models import PaperSize, Studio
from studio.selectors.pieces import PieceView

KIND = "labels"
TEMPLATE = "pdf/labels.html"
RENDER_JOB = "studio.render_labels"
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 1
# Of a label's height or width: what stays free around, and what the code takes at most.
FREE_MM, CODE_SHARE = 2.0, 0.42
WHOLE = 0
"""The number that stands for the piece itself, among its layers' numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One label's words, and the address in its code."""

    title: str
    name: str
    note: str
    url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelPaper:
    """Every text on the labels, and how they are printed."""

    title: str
    stock: str
    first: int
    labels: tuple[Label, ...]
    size: str

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=LAYOUT)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLabel:
    """A label on its sheet; lengths in mm, lines as (text, y, height)."""

    x: float
    y: float
    code: str
    code_scale: float
    code_y: float
    text_x: float
    lines: tuple[tuple[str, float, float], ...]


def usual_stock(studio: Studio) -> LabelStock:
    """Return the stock that a studio's printer most likely takes."""
    is_letter = studio.paper_size == PaperSize.LETTER
    return next(
        one for one in STOCKS if (one.page_width_mm == LETTER_WIDTH_MM) == is_letter
    )


def label_paper(
    view: PieceView,
    numbers: Sequence[int],
    *,
    stock: LabelStock,
    first: int,
    origin: str,
) -> LabelPaper:
    """Write the labels of some layers of a piece, and of the piece itself."""
    piece = view.piece
    base = f"{origin}/pieces/{piece.pk}/"
    labels = []
    for one in sorted(numbers):
        layer = next((own for own in view.layers if own.layer.number == one), None)
        if layer is None:
            labels.append(
                Label(
                    title=piece.title,
                    name=f"{len(view.layers)} layers",
                    note=piece.studio.name,
                    url=base,
                )
            )
            continue
        labels.append(
            Label(
                title=piece.title,
                name=f"Layer {one} of {len(view.layers)}",
                note=layer.layer.title or layer.layer.get_technique_display(),
                url=f"{base}layers/{one}/",
            )
        )
    return LabelPaper(
        title=f"Labels: {piece.title}",
        stock=stock.key,
        first=first,
        labels=tuple(labels),
        size=f"{stock.page_width_mm}mm {stock.page_height_mm}mm",
    )


def sheets_of(paper: LabelPaper, stock: LabelStock) -> list[list[PlacedLabel]]:
    """Return the labels sheet by sheet, each where it is printed."""
    left = iter(paper.labels)
    return [
        [_placed(next(left), x, y, stock) for x, y in sheet]
        for sheet in places(stock, len(paper.labels), first=paper.first)
    ]


def _placed(label: Label, x: float, y: float, stock: LabelStock) -> PlacedLabel:
    code = segno.make(label.url, error="m", micro=False)
    modules = code.symbol_size(border=4)[0]
    side = min(stock.height_mm - FREE_MM, stock.width_mm * CODE_SHARE)
    text_x = FREE_MM + side + 1
    room = stock.width_mm - text_x - FREE_MM
    large = min(stock.height_mm * 0.2, 6.0, room / (LETTER * len(label.name)))
    small = large * 0.62
    top = stock.height_mm / 2
    return PlacedLabel(
        x=round(x, 3),
        y=round(y, 3),
        code=_path(code),
        code_scale=round(side / modules, 5),
        code_y=round((stock.height_mm - side) / 2, 3),
        text_x=round(text_x, 3),
        lines=(
            (fitted(label.title, room, small), round(top - large * 1.1, 2), small),
            (fitted(label.name, room, large), round(top + large * 0.3, 2), large),
            (fitted(label.note, room, small), round(top + large * 1.4, 2), small),
        ),
    )


def _path(code: segno.QRCode) -> str:
    """Return the dark modules as one path; a module is 1 wide, the quiet zone 4."""
    parts = []
    for y, row in enumerate(code.matrix):
        x = 0
        for is_dark, run in groupby(row):
            length = len(list(run))
            if is_dark:
                parts.append(f"M{x + 4} {y + 4}h{length}v1h-{length}z")
            x += length
    return "".join(parts)


def label_context(paper: LabelPaper, stock: LabelStock) -> dict[str, Any]:
    """Return what the template of the labels needs."""
    return {"paper": paper, "stock": stock, "sheets": sheets_of(paper, stock)}


def label_key(view: PieceView, paper: LabelPaper) -> PaperKey:
    """Return the key of a piece's labels with these words."""
    piece = view.piece
    return PaperKey(
        studio=piece.studio, kind=KIND, subject_id=piece.pk, sha256=paper.sha256
    )
