"""Where words go in a chart: beside what they name, on no curve and on no other words."""

from collections.abc import Iterable

import numpy as np

from firing.drawings.curves import FloatArray
from firing.drawings.plot import LETTER_WIDTH, PlacedWords

# Above and below the foot of a line of words [px].
ABOVE, BELOW = 12.0, 4.0
Box = tuple[float, float, float, float]


def box_of(words: PlacedWords) -> Box:
    """Return the left, right, top and bottom of words that begin at their place."""
    width = len(words.words) * LETTER_WIDTH
    return words.x, words.x + width, words.y - ABOVE, words.y + BELOW


class Room:
    """What is free in a drawing of a certain box, between curves given as points."""

    def __init__(
        self, inside: Box, curves: Iterable[tuple[FloatArray, FloatArray]]
    ) -> None:
        self.inside = inside
        self.taken: list[Box] = []
        # A curve of one point is a dot: a line of no length.
        pieces = [
            np.column_stack((x[:-1], y[:-1], x[1:], y[1:]))
            if x.size > 1
            else np.column_stack((x, y, x, y))
            for x, y in curves
        ]
        self.lines = np.concatenate(pieces) if pieces else np.empty((0, 4))

    def take(self, box: Box) -> None:
        """Keep a box from being written over."""
        self.taken.append(box)

    def place(
        self, words: str, places: Iterable[tuple[float, float]]
    ) -> PlacedWords | None:
        """Write words at the first free one of some places; none when all are taken."""
        for x, y in places:
            found = PlacedWords(x=round(x, 2), y=round(y, 2), words=words)
            box = box_of(found)
            if self._is_free(box):
                self.take(box)
                return found
        return None

    def _is_free(self, box: Box) -> bool:
        left, right, top, bottom = self.inside
        if box[0] < left or box[1] > right or box[2] < top or box[3] > bottom:
            return False
        return not any(_overlap(box, other) for other in self.taken) and not bool(
            crossing(self.lines, box).any()
        )


def _overlap(one: Box, other: Box) -> bool:
    return (
        one[0] < other[1]
        and other[0] < one[1]
        and one[2] < other[3]
        and other[2] < one[3]
    )


def crossing(lines: FloatArray, box: Box) -> np.ndarray:
    """Return which straight lines have a point in a box.

    Parameters
    ----------
    lines : array, shape (n, 4)
        From x, y to x, y.
    box : tuple
        Left, right, top, bottom.

    References
    ----------
    Liang and Barsky, A new concept and method for line clipping, ACM Transactions on
    Graphics 3 (1984): the stretch of each line between the four edges.
    """
    x1, y1, x2, y2 = lines.T
    first, last = np.zeros(len(lines)), np.ones(len(lines))
    for start, step, low, high in (
        (x1, x2 - x1, box[0], box[1]),
        (y1, y2 - y1, box[2], box[3]),
    ):
        still = step == 0
        step_or_one = np.where(still, 1.0, step)
        one, other = (low - start) / step_or_one, (high - start) / step_or_one
        enters, leaves = np.minimum(one, other), np.maximum(one, other)
        is_between = (start >= low) & (start <= high)
        first = np.maximum(first, np.where(still, 0.0, enters))
        last = np.where(
            still, np.where(is_between, last, -1.0), np.minimum(last, leaves)
        )
    return first <= last
