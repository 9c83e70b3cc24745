"""Layouts: a sheet as a tree of scores, each from edge to edge of what it divides.

The trees are plain frozen data. Positions are counted from the lower left corner.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Cut:
    """A part lying in the layout, turned or not, at the size at which it is cut."""

    width: int
    height: int
    part: int
    is_turned: bool = False


@dataclass(frozen=True, slots=True)
class Rest:
    """Glass that is left over: kept as an offcut, or waste."""

    width: int
    height: int
    is_kept: bool = False


@dataclass(frozen=True, slots=True)
class Score:
    """A straight cut across all of a rectangle, and what is on either side of it.

    `at` is counted from the left for an upright score, from below for a level one. The
    kerf lies behind it; `second` is none when the kerf eats all that is left.
    """

    width: int
    height: int
    is_upright: bool
    at: int
    first: "Node"
    second: "Node | None"


Node: TypeAlias = Cut | Rest | Score


@dataclass(frozen=True, slots=True)
class Layout:
    """One sheet of a kind of stock, and how it is cut."""

    stock: int
    root: Node


@dataclass(frozen=True, slots=True)
class Placed:
    """A part or a rest with the place of its lower left corner."""

    x: int
    y: int
    node: Cut | Rest


@dataclass(frozen=True, slots=True)
class Line:
    """A score as a line on the sheet, in the order in which they are made.

    `at` is how far it is in from the left, or from below, of the piece it divides.
    """

    number: int
    at: int
    x1: int
    y1: int
    x2: int
    y2: int


@dataclass(frozen=True, slots=True)
class Plan:
    """Sheets to cut, and the parts for which no stock is left, by part."""

    layouts: tuple[Layout, ...]
    unplaced: tuple[int, ...]


def placed(root: Node, kerf: int) -> Iterator[Placed]:
    """Yield every part and rest of a layout with its place."""
    waiting: list[tuple[int, int, Node]] = [(0, 0, root)]
    while waiting:
        x, y, node = waiting.pop()
        if isinstance(node, Score):
            if node.second is not None:
                step = node.at + kerf
                there = (x + step, y) if node.is_upright else (x, y + step)
                waiting.append((*there, node.second))
            waiting.append((x, y, node.first))
        else:
            yield Placed(x, y, node)


def lines(root: Node, kerf: int) -> Iterator[Line]:
    """Yield the scores of a layout in the order in which they can be made."""
    waiting: list[tuple[int, int, Node]] = [(0, 0, root)]
    number = 0
    while waiting:
        x, y, node = waiting.pop()
        if not isinstance(node, Score):
            continue
        number += 1
        if node.is_upright:
            yield Line(number, node.at, x + node.at, y, x + node.at, y + node.height)
            there = (x + node.at + kerf, y)
        else:
            yield Line(number, node.at, x, y + node.at, x + node.width, y + node.at)
            there = (x, y + node.at + kerf)
        if node.second is not None:
            waiting.append((*there, node.second))
        waiting.append((x, y, node.first))


def parts_in(layout: Layout) -> Iterator[int]:
    """Yield the part of every cut in a layout."""
    for one in placed(layout.root, 0):
        if isinstance(one.node, Cut):
            yield one.node.part


def rests_in(layout: Layout, *, is_kept: bool) -> Iterator[Rest]:
    """Yield what is left of a sheet: what goes back to the rack, or the waste."""
    for one in placed(layout.root, 0):
        if isinstance(one.node, Rest) and one.node.is_kept == is_kept:
            yield one.node
