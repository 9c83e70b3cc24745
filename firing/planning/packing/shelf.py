"""Places flat rectangles on one rectangular kiln shelf, with a gap between them.

Maximal rectangles, tried in several orders and by several rules; the try that places
most glass wins. Where something is left out, `packing` searches for a way to place all
of it. The load is not always the densest possible.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import cycle

from firing.planning.packing.packing import inflated, pack

# Millimetres below which two edges count as touching: arithmetic, not glass.
SLACK_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Flat:
    """A rectangle to be placed: its key, and its sides [mm]."""

    key: int
    width_mm: float
    depth_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Where a rectangle is.

    Attributes
    ----------
    key : int
        The rectangle.
    x_mm, y_mm : float
        Its corner from the shelf's front left corner [mm].
    width_mm, depth_mm : float
        Its sides as it lies [mm].
    is_turned : bool
        Whether it lies turned by a quarter.
    """

    key: int
    x_mm: float
    y_mm: float
    width_mm: float
    depth_mm: float
    is_turned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfLoad:
    """What is on the shelf, and the keys of what did not fit."""

    placed: tuple[Placed, ...]
    left_out: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Hole:
    x: float
    y: float
    width: float
    depth: float


def fits_alone(flat: Flat, *, width_mm: float, depth_mm: float) -> bool:
    """Return whether a rectangle fits an empty shelf, turned or not.

    Parameters
    ----------
    flat : Flat
        The rectangle [mm].
    width_mm, depth_mm : float
        The shelf's usable sides [mm].

    References
    ----------
    Arithmetic.
    """
    return any(
        w <= width_mm + SLACK_MM and d <= depth_mm + SLACK_MM
        for w, d in (
            (flat.width_mm, flat.depth_mm),
            (flat.depth_mm, flat.width_mm),
        )
    )


def lay_out(
    flats: Sequence[Flat], *, width_mm: float, depth_mm: float, gap_mm: float
) -> ShelfLoad:
    """Place as many rectangles as the shelf takes.

    Parameters
    ----------
    flats : sequence of Flat
        The rectangles [mm]; keys are unique.
    width_mm, depth_mm : float
        The shelf's usable sides [mm].
    gap_mm : float
        Free shelf between two rectangles [mm]; none is needed at the shelf's edge.

    Returns
    -------
    ShelfLoad
        Placed in the order given, and what is left out.

    Raises
    ------
    ValueError
        If a side is not above zero, the gap is negative, or a key comes twice.

    References
    ----------
    J. Jylänki, A Thousand Ways to Pack the Bin (2010), MAXRECTS with best
    short side and bottom left (from memory); the turning pattern is our own, it finds
    the four sheets that lie round a middle.
    """
    sides = [width_mm, depth_mm, *(s for f in flats for s in (f.width_mm, f.depth_mm))]
    if min(sides) <= 0 or gap_mm < 0:
        raise ValueError("Sides are above zero and the gap is not negative.")
    if len({flat.key for flat in flats}) != len(flats):
        raise ValueError("Every rectangle needs a key of its own.")
    best = max(
        _tries(flats, width_mm, depth_mm, gap_mm),
        key=lambda t: (len(t), sum(p.width_mm * p.depth_mm for p in t)),
    )
    if len(best) < len(flats):
        best = _all_of_them(flats, width_mm, depth_mm, gap_mm) or best
    by_key = {placed.key: placed for placed in best}
    return ShelfLoad(
        placed=tuple(by_key[f.key] for f in flats if f.key in by_key),
        left_out=tuple(f.key for f in flats if f.key not in by_key),
    )


def _all_of_them(
    flats: Sequence[Flat], width_mm: float, depth_mm: float, gap_mm: float
) -> list[Placed]:
    """Search for a way to place every rectangle; empty when none is found."""
    sizes, width, depth = inflated(
        [(flat.width_mm, flat.depth_mm) for flat in flats],
        width_mm=width_mm,
        depth_mm=depth_mm,
        gap_mm=gap_mm,
    )
    spots = pack(sizes, width_mm=width, depth_mm=depth).spots or ()
    return [
        Placed(
            key=flat.key,
            x_mm=x,
            y_mm=y,
            width_mm=flat.depth_mm if turned else flat.width_mm,
            depth_mm=flat.width_mm if turned else flat.depth_mm,
            is_turned=turned,
        )
        for flat, (x, y, turned) in zip(flats, spots, strict=False)
    ]


def capacity(
    flat: Flat, *, count: int, width_mm: float, depth_mm: float, gap_mm: float
) -> int:
    """Return how many of `count` equal rectangles one load takes.

    Parameters
    ----------
    flat : Flat
        One of them [mm].
    count : int
        How many there are.
    width_mm, depth_mm, gap_mm : float
        As for `lay_out` [mm].

    References
    ----------
    As `lay_out`.
    """
    equal = [
        Flat(key=n, width_mm=flat.width_mm, depth_mm=flat.depth_mm)
        for n in range(count)
    ]
    load = lay_out(equal, width_mm=width_mm, depth_mm=depth_mm, gap_mm=gap_mm)
    return len(load.placed)


ORDERS: tuple[Callable[[Flat], float], ...] = (
    lambda f: -max(f.width_mm, f.depth_mm),
    lambda f: -f.width_mm * f.depth_mm,
    lambda f: f.width_mm * f.depth_mm,
)
Turns = tuple[bool, ...]
# Which way the next one lies; both ways where there are two.
EITHER_WAY: tuple[Turns, ...] = ((False, True),)
ROUND_A_MIDDLE: tuple[Turns, ...] = ((False,), (True,), (True,), (False,))


def _tries(
    flats: Sequence[Flat], width: float, depth: float, gap: float
) -> Iterator[list[Placed]]:
    seen = set()
    for order in ORDERS:
        ordered = tuple(sorted(flats, key=order))
        if ordered in seen:
            continue
        seen.add(ordered)
        yield _lay_in_order(ordered, width, depth, gap, _short_side, EITHER_WAY)
        yield _lay_in_order(ordered, width, depth, gap, _front_left, EITHER_WAY)
        yield _lay_in_order(ordered, width, depth, gap, _front_left, ROUND_A_MIDDLE)


def _short_side(hole: _Hole, spare: tuple[float, float]) -> tuple[float, ...]:
    return (min(spare), max(spare))


def _front_left(hole: _Hole, spare: tuple[float, float]) -> tuple[float, ...]:
    return (hole.y, hole.x)


Rule = Callable[[_Hole, tuple[float, float]], tuple[float, ...]]


def _lay_in_order(
    flats: Sequence[Flat],
    width: float,
    depth: float,
    gap: float,
    rule: Rule,
    turning: Sequence[Turns],
) -> list[Placed]:
    """Place one after another; a gap is part of each rectangle and of the shelf."""
    holes = [_Hole(0.0, 0.0, width + gap, depth + gap)]
    placed = []
    for flat, turns in zip(flats, cycle(turning), strict=False):
        spot = _best_spot(flat, holes, gap, rule, turns)
        if spot is None:
            spot = _best_spot(flat, holes, gap, rule, (False, True))
        if spot is None:
            continue
        placed.append(spot)
        taken = _Hole(spot.x_mm, spot.y_mm, spot.width_mm + gap, spot.depth_mm + gap)
        holes = _outermost([part for hole in holes for part in _cut(hole, taken)])
    return placed


def _best_spot(
    flat: Flat, holes: Sequence[_Hole], gap: float, rule: Rule, turns: Turns
) -> Placed | None:
    best: tuple[tuple[float, ...], Placed] | None = None
    for is_turned in turns:
        width, depth = flat.width_mm, flat.depth_mm
        if is_turned:
            width, depth = depth, width
        for hole in holes:
            spare = (hole.width - width - gap, hole.depth - depth - gap)
            if min(spare) < -SLACK_MM:
                continue
            worth = rule(hole, spare)
            if best is None or worth < best[0]:
                placed = Placed(
                    key=flat.key,
                    x_mm=hole.x,
                    y_mm=hole.y,
                    width_mm=width,
                    depth_mm=depth,
                    is_turned=is_turned,
                )
                best = (worth, placed)
    return None if best is None else best[1]


def _cut(hole: _Hole, taken: _Hole) -> list[_Hole]:
    """Return the largest rectangles of the hole that the taken part leaves."""
    right, top = hole.x + hole.width, hole.y + hole.depth
    taken_right, taken_top = taken.x + taken.width, taken.y + taken.depth
    if (
        taken.x >= right - SLACK_MM
        or taken_right <= hole.x + SLACK_MM
        or taken.y >= top - SLACK_MM
        or taken_top <= hole.y + SLACK_MM
    ):
        return [hole]
    parts = [
        _Hole(hole.x, hole.y, taken.x - hole.x, hole.depth),
        _Hole(taken_right, hole.y, right - taken_right, hole.depth),
        _Hole(hole.x, hole.y, hole.width, taken.y - hole.y),
        _Hole(hole.x, taken_top, hole.width, top - taken_top),
    ]
    return [p for p in parts if p.width > SLACK_MM and p.depth > SLACK_MM]


def _outermost(holes: Sequence[_Hole]) -> list[_Hole]:
    """Drop every hole that lies wholly inside another one."""
    kept: list[_Hole] = []
    for hole in sorted(set(holes), key=lambda h: (-h.width * h.depth, h.x, h.y)):
        if not any(_contains(other, hole) for other in kept):
            kept.append(hole)
    return kept


def _contains(outer: _Hole, inner: _Hole) -> bool:
    return (
        inner.x >= outer.x - SLACK_MM
        and inner.y >= outer.y - SLACK_MM
        and inner.x + inner.width <= outer.x + outer.width + SLACK_MM
        and inner.y + inner.depth <= outer.y + outer.depth + SLACK_MM
    )
