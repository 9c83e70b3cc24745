"""Sheets on the rack and cutting layouts as drawings to scale.

Pure geometry in SVG units; the templates draw it and the style sheet colours it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.cutting.layout import Cut, Layout, lines, placed

# How far the number of a score stands in from the edge where the score begins.
LINE_LABEL = 14.0
# From a text's middle to its base line.
TEXT_DROP, NUMBER_DROP = 8.0, 5.0
SMALLEST_LABEL = 44.0


@dataclass(frozen=True, slots=True)
class Shape:
    """A rectangle with its label: a part, an offcut that is kept, or waste."""

    kind: str
    x: float
    y: float
    width: float
    height: float
    label: str

    @property
    def middle_x(self) -> float:
        return round(self.x + self.width / 2, 1)

    @property
    def label_y(self) -> float:
        return round(self.y + self.height / 2 + TEXT_DROP, 1)


@dataclass(frozen=True, slots=True)
class ScoreLine:
    """A score with its number, written where it begins at the edge."""

    number: int
    x1: float
    y1: float
    x2: float
    y2: float
    label_x: float
    label_y: float

    @property
    def text_y(self) -> float:
        return round(self.label_y + NUMBER_DROP, 1)


@dataclass(frozen=True, slots=True)
class SheetDrawing:
    """One sheet to scale, its lower left corner below on the left."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
    lines: tuple[ScoreLine, ...]


def sheet_drawing(
    layout: Layout, labels: Sequence[str], *, kerf: int, scale: float
) -> SheetDrawing:
    """Draw a layout; `scale` is SVG units for a tenth of a millimetre.

    Labels are those of the parts in the order of `placed`; rests have none.
    """
    root = layout.root
    given = iter(labels)
    shapes = []
    for one in placed(root, kerf):
        is_part = isinstance(one.node, Cut)
        kept = not is_part and getattr(one.node, "is_kept", False)
        width, height = one.node.width * scale, one.node.height * scale
        label = next(given) if is_part else "keep" if kept else ""
        shapes.append(
            Shape(
                kind="part" if is_part else "kept" if kept else "waste",
                x=round(one.x * scale, 1),
                # SVG counts from above, the bench from below.
                y=round((root.height - one.y - one.node.height) * scale, 1),
                width=round(width, 1),
                height=round(height, 1),
                label=label if min(width * 1.6, height * 2) >= SMALLEST_LABEL else "",
            )
        )
    drawn = []
    for score in lines(root, kerf):
        x1, x2 = score.x1 * scale, score.x2 * scale
        y1, y2 = (root.height - score.y1) * scale, (root.height - score.y2) * scale
        is_upright = score.x1 == score.x2
        drawn.append(
            ScoreLine(
                score.number,
                round(x1, 1),
                round(y1, 1),
                round(x2, 1),
                round(y2, 1),
                round(x1 if is_upright else x1 + LINE_LABEL, 1),
                round(y1 - LINE_LABEL if is_upright else y1, 1),
            )
        )
    return SheetDrawing(
        round(root.width * scale, 1),
        round(root.height * scale, 1),
        tuple(shapes),
        tuple(drawn),
    )
