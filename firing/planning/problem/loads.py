"""Which sets of layers fit on which shelf together: asked once, then remembered.

A load is a state with a number; adding or removing a layer leads to another state.
`packing` finds how the layers fit; this file only remembers.
"""

from bisect import bisect_left
from collections.abc import Sequence
from itertools import combinations

from firing.planning.packing.packing import (
    Hole,
    Size,
    Spot,
    holes_round,
    inflated,
    pack,
    place_in,
    without,
)

EMPTY = 0
FULL = -1
SLACK_MM2 = 1e-3
# Half of what the checker forgives.
SLACK_MM = 5e-4
# Nodes of the search for one load: beyond it the load counts as not packable. Large
# problems have so many different loads that only the quick tries are worth their time.
NODES_PER_LOAD = 20
MOST_SIZES_TO_SEARCH = 120
# Above this share of the shelf the search hardly ever finds anything (measured).
MOST_FILL_TO_SEARCH = 0.88
# In a large problem no load fuller than this is tried, except a single layer.
MOST_FILL_LARGE = 0.9


class Shelf:
    """The loads of one shelf with one gap; sizes are given as their numbers."""

    def __init__(
        self,
        sizes: Sequence[Size],
        *,
        width_mm: float,
        depth_mm: float,
        gap_mm: float,
    ) -> None:
        self.sizes, self.width, self.depth = inflated(
            sizes, width_mm=width_mm, depth_mm=depth_mm, gap_mm=gap_mm
        )
        self.content: list[tuple[int, ...]] = [()]
        self.spots: list[tuple[Spot, ...]] = [()]
        # Free rectangles, once somebody asked for them.
        self.holes: list[list[Hole] | None] = [None]
        self.areas = [width * depth for width, depth in self.sizes]
        self.covered = [0.0]
        self.number: dict[tuple[int, ...], int] = {(): EMPTY}
        self.more: list[dict[int, int]] = [{}]
        self.less: list[dict[int, int]] = [{}]
        self.nodes = NODES_PER_LOAD if len(sizes) <= MOST_SIZES_TO_SEARCH else 0
        is_large = len(sizes) > MOST_SIZES_TO_SEARCH
        self.spare = (
            (1 - MOST_FILL_LARGE) * self.width * self.depth if is_large else 0.0
        )
        self.packed = 0

    def add(self, state: int, size: int) -> int:
        """Return the state with one more layer of this size, or FULL."""
        known = self.more[state].get(size)
        if known is not None:
            return known
        spare = self.spare if state else 0.0
        if self.areas[size] > self.area_left(state) - spare + SLACK_MM2:
            self.more[state][size] = FULL
            return FULL
        content = tuple(sorted((*self.content[state], size)))
        reached = self.number.get(content)
        if reached is None:
            reached = self._lay_beside(state, size, content)
            if reached == FULL:
                reached = self._pack(content)
        self.more[state][size] = reached
        return reached

    def take(self, state: int, size: int) -> int:
        """Return the state with one layer of this size less; it always fits."""
        known = self.less[state].get(size)
        if known is not None:
            return known
        content = list(self.content[state])
        at = content.index(size)
        del content[at]
        spots = self.spots[state][:at] + self.spots[state][at + 1 :]
        reached = self.with_spots(tuple(content), spots)
        self.less[state][size] = reached
        return reached

    def with_spots(self, content: tuple[int, ...], spots: tuple[Spot, ...]) -> int:
        """Return the state of a load, sorted by size, that is known to fit like this."""
        known = self.number.get(content)
        if known is None or known == FULL:
            known = self._keep(content, spots)
        return known

    def can_lie(self, items: Sequence[tuple[int, Spot]]) -> bool:
        """Return whether layers, by size and spot, lie on this shelf and far enough apart."""
        boxes = []
        for size, (x, y, is_turned) in items:
            wide, deep = self.sizes[size]
            if is_turned:
                wide, deep = deep, wide
            boxes.append((x, y, x + wide, y + deep))
        return all(
            min(left, front) >= -SLACK_MM
            and right <= self.width + SLACK_MM
            and back <= self.depth + SLACK_MM
            for left, front, right, back in boxes
        ) and all(
            max(b[0] - a[2], a[0] - b[2], b[1] - a[3], a[1] - b[3]) >= -SLACK_MM
            for a, b in combinations(boxes, 2)
        )

    def area_left(self, state: int) -> float:
        """Return the area that is not covered [mm²], gaps counted as covered."""
        return self.width * self.depth - self.covered[state]

    def _keep(self, content: tuple[int, ...], spots: tuple[Spot, ...]) -> int:
        self.content.append(content)
        self.spots.append(spots)
        self.holes.append(None)
        self.covered.append(sum(self.areas[n] for n in content))
        self.more.append({})
        self.less.append({})
        self.number[content] = len(self.content) - 1
        return self.number[content]

    def _lay_beside(self, state: int, size: int, content: tuple[int, ...]) -> int:
        """Place one more beside what is there, which stays where it is."""
        holes = self.holes[state]
        if holes is None:
            holes = self.holes[state] = holes_round(
                [self.sizes[n] for n in self.content[state]],
                self.spots[state],
                width_mm=self.width,
                depth_mm=self.depth,
            )
        spot = place_in(holes, self.sizes[size])
        if spot is None:
            return FULL
        at = bisect_left(content, size)
        spots = self.spots[state]
        reached = self._keep(content, (*spots[:at], spot, *spots[at:]))
        self.holes[reached] = without(holes, self.sizes[size], spot)
        return reached

    def _pack(self, content: tuple[int, ...]) -> int:
        self.packed += 1
        covered = sum(self.areas[n] for n in content)
        is_tight = covered > MOST_FILL_TO_SEARCH * self.width * self.depth
        result = pack(
            [self.sizes[n] for n in content],
            width_mm=self.width,
            depth_mm=self.depth,
            node_limit=0 if is_tight else self.nodes,
            wants_proof=False,
        )
        if result.spots is None:
            self.number[content] = FULL
            return FULL
        return self._keep(content, result.spots)
