"""Registration sheets of a piece's layers: their words, their drawing, their paper."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from studio.documents import PaperKey, words_sha256
from studio.label_sheets import LETTER, fitted
from studio.models import PaperSize
from studio.registration import (
    BAR_MM,
    FOOT_MM,
    MARGIN_MM,
    MARK_ARM_MM,
    Tile,
    Tiling,
    marks,
    tiling,
)
from studio.selectors.pictures import depth_pictures_of
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer

KIND = "registration sheets"
TEMPLATE = "pdf/registration.html"
RENDER_JOB = "studio.render_registration"
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 3
PAPERS_MM = {PaperSize.A4: (210.0, 297.0), PaperSize.LETTER: (215.9, 279.4)}
WORDS_MM = 4.5
FACES = {"front": "the front", "back": "the back, so mirrored"}


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerSheet:
    """The words of one layer's sheets, and its picture's file."""

    name: str
    note: str
    picture: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RegistrationPaper:
    """Every text on the sheets, and what is drawn."""

    title: str
    width_mm: float
    height_mm: float
    is_mirrored: bool
    layers: tuple[LayerSheet, ...]
    size: str
    is_demo: bool

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=LAYOUT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One sheet of paper: a layer's words, and the part of its drawing."""

    layer: LayerSheet
    tile: Tile
    head: str


def registration_paper(
    view: PieceView, numbers: Sequence[int], *, face: str
) -> RegistrationPaper:
    """Write the sheets of some layers, printed for a face of the glass."""
    piece, studio = view.piece, view.piece.studio
    viewer = Viewer.of_studio(studio)
    pictures = {
        one.layer_id: f"slowcool:media/{one.image.name}"
        for one in depth_pictures_of(piece)
    }
    size = viewer.size(piece.width_mm, piece.height_mm)
    return RegistrationPaper(
        title=piece.title,
        width_mm=piece.width_mm,
        height_mm=piece.height_mm,
        is_mirrored=face == "back",
        layers=tuple(
            LayerSheet(
                name=f"layer {one.layer.number} of {len(view.layers)}",
                note=f"For {FACES[face]}. {size}. The back of the stack is layer 1.",
                picture=pictures.get(one.layer.pk, ""),
            )
            for one in view.layers
            if one.layer.number in numbers
        ),
        size=studio.paper_size,
        is_demo=studio.is_demo,
    )


def tiling_of(paper: RegistrationPaper) -> Tiling:
    """Return how each layer's drawing is spread over the studio's paper."""
    return tiling(
        paper.width_mm, paper.height_mm, paper_mm=PAPERS_MM[PaperSize(paper.size)]
    )


def registration_context(paper: RegistrationPaper) -> dict[str, Any]:
    """Return what the template of the sheets needs."""
    spread = tiling_of(paper)
    width, height = PAPERS_MM[PaperSize(paper.size)]
    if spread.is_turned:
        width, height = height, width
    count = len(spread.tiles)
    return {
        "paper": paper,
        "spread": spread,
        "page_width": width,
        "page_height": height,
        "margin": MARGIN_MM,
        "marks": marks(paper.width_mm, paper.height_mm),
        "arm": MARK_ARM_MM,
        "bar_mm": BAR_MM,
        "words_mm": WORDS_MM,
        "foot_y": round(height - MARGIN_MM - FOOT_MM, 3),
        "pages": [
            Page(
                layer=layer,
                tile=tile,
                head=_head(
                    paper.title,
                    f"{layer.name}, sheet {number} of {count}: row {tile.row + 1}, "
                    f"column {tile.column + 1}"
                    if count > 1
                    else layer.name,
                    room_mm=spread.width_mm,
                ),
            )
            for layer in paper.layers
            for number, tile in enumerate(spread.tiles, start=1)
        ],
    }


def _head(title: str, rest: str, *, room_mm: float) -> str:
    """Name a sheet; a long title is cut, what tells sheets apart is not."""
    left_mm = room_mm - LETTER * WORDS_MM * (len(rest) + 2)
    return f"{fitted(title, left_mm, WORDS_MM)}, {rest}"


def registration_key(view: PieceView, paper: RegistrationPaper) -> PaperKey:
    """Return the key of a piece's sheets with these words."""
    piece = view.piece
    return PaperKey(
        studio=piece.studio, kind=KIND, subject_id=piece.pk, sha256=paper.sha256
    )
