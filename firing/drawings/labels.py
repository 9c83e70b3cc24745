"""Places for the words of a chart: beside its curves, never across one."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from firing.drawings.curves import FloatArray
from firing.drawings.plot import LETTER_WIDTH, LINE_HEIGHT, PlacedWords

# Kept free round the words, for the width of a line.
PAD = 2.0
# How far the letters reach below the line they stand on.
DESCENT = 3.0

Box = tuple[float, float, float, float]
Polyline = tuple[FloatArray, FloatArray]


def box_of(x: float, y: float, words: str, letter: float = LETTER_WIDTH) -> Box:
    """Return left, top, right and bottom of words that begin at `x` on the line `y`."""
    return x, y + DESCENT - LINE_HEIGHT, x + len(words) * letter, y + DESCENT


@dataclass(kw_only=True)
class Labels:
    """The room for words in a drawing: inside `frame`, clear of curves and boxes."""

    frame: Box
    curves: Sequence[Polyline] = ()
    taken: list[Box] = field(default_factory=list)

    def place(
        self,
        words: str,
        candidates: Iterable[tuple[float, float]],
        letter: float = LETTER_WIDTH,
    ) -> PlacedWords | None:
        """Write words at the first free candidate (left end, line), moved into the frame
        from the sides; None if none is free.
        """
        for wanted_x, y in candidates:
            last = self.frame[2] - len(words) * letter
            x = max(min(wanted_x, last), self.frame[0])
            box = box_of(x, y, words, letter)
            if self._is_free(box):
                self.taken.append(box)
                return PlacedWords(x=round(x, 2), y=round(y, 2), words=words)
        return None

    def _is_free(self, box: Box) -> bool:
        left, top, right, bottom = self.frame
        is_inside = (
            box[0] >= left and box[2] <= right and box[1] >= top and box[3] <= bottom
        )
        return (
            is_inside
            and not any(overlap(box, other) for other in self.taken)
            and not any(meets(box, curve) for curve in self.curves)
        )


def overlap(one: Box, other: Box) -> bool:
    """Return whether two boxes share any place."""
    return (
        one[0] < other[2]
        and other[0] < one[2]
        and one[1] < other[3]
        and other[1] < one[3]
    )


def meets(box: Box, curve: Polyline, pad: float = PAD) -> bool:
    """Return whether a polyline comes into a box or nearer to it than `pad`."""
    xs, ys = curve
    if not xs.size:
        return False
    if xs.size == 1:
        xs, ys = np.repeat(xs, 2), np.repeat(ys, 2)
    # The part of each segment, as shares of its length, that lies within both strips.
    enters, leaves = np.zeros(xs.size - 1), np.ones(xs.size - 1)
    for places, low, high in ((xs, box[0], box[2]), (ys, box[1], box[3])):
        first, step = places[:-1], np.diff(places)
        is_level = step == 0
        safe = np.where(is_level, 1.0, step)
        a, b = (low - pad - first) / safe, (high + pad - first) / safe
        beside = (first < low - pad) | (first > high + pad)
        enters = np.maximum(enters, np.where(is_level, 0.0, np.minimum(a, b)))
        leaves = np.minimum(leaves, np.where(is_level, 1.0, np.maximum(a, b)))
        leaves = np.where(is_level & beside, -1.0, leaves)
    return bool((enters <= leaves).any())
