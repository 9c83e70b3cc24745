"""The cutting plan as it is read at the bench: its drawings, its words, its paper."""

from dataclasses import asdict, dataclass
from typing import Any

from studio.cutting.layout import lines, rests_in
from studio.cutting.problem import TENTHS_PER_MM, tenths
from studio.documents import PaperKey, words_sha256
from studio.drawings.cutting import SheetDrawing, sheet_drawing
from studio.drawings.paper_style import CSS_DIR, drawing_style
from studio.models import Glass
from studio.selectors.cutting import (
    CuttingBoard,
    SheetPlan,
    Wanted,
    is_too_large,
    shelf_sizes,
)
from studio.viewer import Viewer, count_words

KIND = "cutting sheet"
TEMPLATE = "pdf/cutting_sheet.html"
RENDER_JOB = "studio.render_cutting_sheet"
# Raise this when the paper's layout changes, so that papers are made again.
LAYOUT = 1
# SVG units along the longest side of the largest sheet.
LONGEST = 640.0
MARGIN_X, MARGIN_Y = 18.0, 22.0
# Every sheet is framed as wide as the largest, so that all are to one scale.
FRAME_LEAST = LONGEST
CAUTIONS = (
    "Safety glasses; gloves for edges; sweep splinters up wet, never by hand.",
    "Break each score before the next one: the numbers are the order.",
    "Grind wet, with a respirator when dry dust is about.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnSheet:
    """One sheet of the plan with its words."""

    plan: SheetPlan
    drawing: SheetDrawing
    title: str
    note: str
    steps: tuple[str, ...]

    @property
    def frame_width(self) -> float:
        """Return the drawing's width with room for the numbers beside it."""
        return round(max(self.drawing.width, FRAME_LEAST) + 2 * MARGIN_X, 1)

    @property
    def frame_height(self) -> float:
        """Return the drawing's height with room for the numbers above and below it."""
        return round(self.drawing.height + 2 * MARGIN_Y, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingSheet:
    """Every text on the paper, already written out."""

    title: str
    studio_name: str
    facts: tuple[str, ...]
    legend: tuple[str, ...]
    sheets: tuple[tuple[str, str, tuple[str, ...]], ...]
    problems: tuple[str, ...]
    cautions: tuple[str, ...]
    key: str
    size: str
    is_demo: bool

    @property
    def sha256(self) -> str:
        """Return the hash under which the PDF is filed."""
        return words_sha256(asdict(self), layout=LAYOUT)


def drawn(board: CuttingBoard, viewer: Viewer) -> list[DrawnSheet]:
    """Draw every sheet of a plan, all to one scale."""
    roots = [one.layout.root for one in board.sheets]
    longest = max((max(one.width, one.height) for one in roots), default=1)
    kerf = tenths(board.terms.kerf_mm)
    return [
        DrawnSheet(
            plan=one,
            drawing=sheet_drawing(
                one.layout, one.labels, kerf=kerf, scale=LONGEST / longest
            ),
            title=_sheet_title(one, viewer),
            note=_sheet_note(one, viewer),
            steps=_steps(one, kerf, viewer),
        )
        for one in board.sheets
    ]


def _sheet_title(one: SheetPlan, viewer: Viewer) -> str:
    size = viewer.size(one.stock.width_mm, one.stock.height_mm)
    kind = "Offcut" if one.stock.is_offcut else "Sheet"
    batch = f", batch {one.stock.batch}" if one.stock.batch else ""
    return f"{one.number}. {kind} {size}{batch}"


def _sheet_note(one: SheetPlan, viewer: Viewer) -> str:
    kept = [
        viewer.size(rest.width / TENTHS_PER_MM, rest.height / TENTHS_PER_MM)
        for rest in rests_in(one.layout, is_kept=True)
    ]
    words = [count_words(len(one.labels), "layer")]
    if kept:
        words.append(f"keep {' and '.join(kept)}")
    if one.is_to_buy:
        words.append("to be bought")
    return ", ".join(words)


def _steps(one: SheetPlan, kerf: int, viewer: Viewer) -> tuple[str, ...]:
    """Say each score: how far in from which side of the piece in hand."""
    told = []
    for score in lines(one.layout.root, kerf):
        is_upright = score.x1 == score.x2
        side = "the left" if is_upright else "below"
        told.append(f"{viewer.length(score.at / TENTHS_PER_MM)} from {side}")
    return tuple(told)


def board_words(board: CuttingBoard, viewer: Viewer) -> list[str]:
    """Return the plan in a line of facts."""
    if not board.sheets:
        return []
    layers = sum(len(one.labels) for one in board.sheets)
    offcuts = sum(one.stock.is_offcut for one in board.sheets)
    words = [
        count_words(layers, "layer"),
        count_words(len(board.sheets) - offcuts, "sheet"),
    ]
    if offcuts:
        words.append(count_words(offcuts, "offcut"))
    words.append(f"{board.use.waste_percent:.1f} % waste")
    if board.to_buy:
        words.append(f"{count_words(len(board.to_buy), 'sheet')} to buy")
    if board.terms.grinding_mm:
        words.append(f"{viewer.length(board.terms.grinding_mm)} to grind on every edge")
    return words


def legend_words(one: Wanted, viewer: Viewer) -> str:
    """Say what a letter stands for."""
    size = viewer.size(one.width_mm, one.height_mm)
    quoted = ", quoted" if one.is_quoted else ""
    return (
        f"{one.letter}: {one.title}, {size}, {count_words(one.count, 'layer')}{quoted}"
    )


def problems(board: CuttingBoard, viewer: Viewer) -> list[str]:
    """Return what cannot be cut or fired as it is planned, one sentence each."""
    told = []
    if board.wanted and not board.has_stock:
        told.append(
            "No sheets of this glass are counted. Receive them, and the plan is drawn."
        )
        return told
    for one, count in board.left_out:
        size = viewer.size(one.width_mm, one.height_mm)
        told.append(
            f"{one.title}: {count_words(count, 'layer')} of {size} cannot be cut from "
            "any sheet. Receive a larger size."
        )
    shelves = shelf_sizes(viewer.studio)
    for one in board.wanted:
        if is_too_large(one, shelves):
            size = viewer.size(one.width_mm, one.height_mm)
            told.append(f"{one.title}: {size} lies on no kiln's shelf.")
    return told


def cutting_sheet(board: CuttingBoard) -> CuttingSheet:
    """Write the paper of a plan."""
    studio = board.glass.studio
    viewer = Viewer.of_studio(studio)
    return CuttingSheet(
        title=f"Cutting plan: {board.glass}",
        studio_name=studio.name,
        facts=tuple(board_words(board, viewer)),
        legend=tuple(legend_words(one, viewer) for one in board.wanted),
        sheets=tuple((one.title, one.note, one.steps) for one in drawn(board, viewer)),
        problems=tuple(problems(board, viewer)),
        cautions=CAUTIONS,
        key=board.key,
        size=studio.paper_size,
        is_demo=studio.is_demo,
    )


def sheet_context(board: CuttingBoard, sheet: CuttingSheet) -> dict[str, Any]:
    """Return what the paper's template needs: its words and its drawings."""
    viewer = Viewer.of_studio(board.glass.studio)
    return {
        "paper": sheet,
        "drawn": drawn(board, viewer),
        "drawing_style": drawing_style(CSS_DIR / "stock.css"),
    }


def sheet_key(glass: Glass, sheet: CuttingSheet) -> PaperKey:
    """Return the key of a glass's plan with these words."""
    return PaperKey(
        studio=glass.studio, kind=KIND, subject_id=glass.pk, sha256=sheet.sha256
    )
