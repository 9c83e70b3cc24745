"""Registration sheets at true scale: the outline, the marks, and how they are tiled. Pure.

Lengths in mm; x to the right and y down from the outline's left top corner.
"""

import math
from dataclasses import dataclass

# No printer prints nearer to the edge; common practice, no source.
MARGIN_MM = 8.0
# How far a mark's middle lies outside the outline, and how long its arms are.
MARK_OUT_MM, MARK_ARM_MM = 8.0, 5.0
# Room around the outline for the marks; at the foot of every sheet for words and the bar.
AROUND_MM, FOOT_MM = 14.0, 18.0
BAR_MM = 100.0
# How much of the next sheet each one shows.
OVERLAP_MM = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One sheet of paper: which part of the drawing it shows.

    Attributes
    ----------
    row, column : int
        From 0.
    left_mm, top_mm : float
        Where the shown part begins, in the drawing.
    joins_x_mm, joins_y_mm : tuple of float
        Where it meets the sheets beside it, in the drawing: the middle of what both
        show.
    """

    row: int
    column: int
    left_mm: float
    top_mm: float
    joins_x_mm: tuple[float, ...]
    joins_y_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiling:
    """How a drawing is spread over sheets of paper.

    Attributes
    ----------
    is_turned : bool
        Whether the paper lies on its side.
    width_mm, height_mm : float
        What a sheet shows.
    tiles : tuple of Tile
        Row by row.
    """

    is_turned: bool
    width_mm: float
    height_mm: float
    tiles: tuple[Tile, ...]


def marks(width_mm: float, height_mm: float) -> list[tuple[float, float]]:
    """Return the middles of the four marks: in the same place for every layer.

    Parameters
    ----------
    width_mm, height_mm : float
        The piece.
    """
    out = MARK_OUT_MM
    return [(x, y) for y in (-out, height_mm + out) for x in (-out, width_mm + out)]


def tiling(
    width_mm: float, height_mm: float, *, paper_mm: tuple[float, float]
) -> Tiling:
    """Spread the drawing of a piece over as few sheets as possible.

    Parameters
    ----------
    width_mm, height_mm : float
        The piece.
    paper_mm : pair of float
        The paper's width and height, upright.

    Raises
    ------
    ValueError
        If the paper is too small to show more than its overlap.
    """
    drawing_w = width_mm + 2 * AROUND_MM
    drawing_h = height_mm + 2 * AROUND_MM
    upright = _spread(drawing_w, drawing_h, paper_mm, is_turned=False)
    turned = _spread(drawing_w, drawing_h, paper_mm[::-1], is_turned=True)
    return min((upright, turned), key=lambda one: len(one.tiles))


def _spread(
    drawing_w: float, drawing_h: float, paper: tuple[float, float], *, is_turned: bool
) -> Tiling:
    shown_w, shown_h = (side - 2 * MARGIN_MM for side in paper)
    shown_h -= FOOT_MM
    if min(shown_w, shown_h) <= OVERLAP_MM:
        raise ValueError("The paper is too small.")
    lefts = _starts(drawing_w, shown_w, -AROUND_MM)
    tops = _starts(drawing_h, shown_h, -AROUND_MM)
    tiles = [
        Tile(
            row=row,
            column=column,
            left_mm=left,
            top_mm=top,
            joins_x_mm=_joins(lefts, column, shown_w),
            joins_y_mm=_joins(tops, row, shown_h),
        )
        for row, top in enumerate(tops)
        for column, left in enumerate(lefts)
    ]
    return Tiling(
        is_turned=is_turned, width_mm=shown_w, height_mm=shown_h, tiles=tuple(tiles)
    )


def _starts(length: float, shown: float, begins: float) -> list[float]:
    if length <= shown:
        # In the middle of the sheet.
        return [begins - (shown - length) / 2]
    count = math.ceil((length - OVERLAP_MM) / (shown - OVERLAP_MM))
    return [begins + number * (shown - OVERLAP_MM) for number in range(count)]


def _joins(starts: list[float], place: int, shown: float) -> tuple[float, ...]:
    joins = []
    if place > 0:
        joins.append(starts[place] + OVERLAP_MM / 2)
    if place < len(starts) - 1:
        joins.append(starts[place] + shown - OVERLAP_MM / 2)
    return tuple(joins)
