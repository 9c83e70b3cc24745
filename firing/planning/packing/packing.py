"""Whether all of a set of rectangles fit on one shelf: quick tries, then a search.

Sides here already include the gap (see `inflated`), so touching means far enough apart.
`shelf` packs as many as it can, for a person to look at.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import inf

Size = tuple[float, float]
Spot = tuple[float, float, bool]
# Left, front, right and back edge of a free rectangle.
Hole = tuple[float, float, float, float]
# Arithmetic in millimetres, not glass.
SLACK_MM = 1e-6
# Beyond this many, the search of all positions does not end in useful time.
MOST_FOR_PROOF = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """The answer of `pack`.

    Attributes
    ----------
    spots : tuple of (x, y, is_turned) or None
        Per rectangle in the order given [mm]; None when no way was found.
    is_proved : bool
        Whether None means that there is no way, not only that none was found.
    nodes : int
        Work done by the searches.
    """

    spots: tuple[Spot, ...] | None
    is_proved: bool
    nodes: int


def inflated(
    sizes: Sequence[Size], *, width_mm: float, depth_mm: float, gap_mm: float
) -> tuple[list[Size], float, float]:
    """Return sides and shelf each enlarged by the gap, which makes gaps exact.

    Parameters
    ----------
    sizes : sequence of (width, depth)
        The rectangles [mm].
    width_mm, depth_mm, gap_mm : float
        The shelf and the least distance between two rectangles [mm].

    References
    ----------
    Three layers of 300 mm with gaps of 15 mm need 3 * 315 = 930 + 15 mm.
    """
    larger = [(width + gap_mm, depth + gap_mm) for width, depth in sizes]
    return larger, width_mm + gap_mm, depth_mm + gap_mm


def pack(
    sizes: Sequence[Size],
    *,
    width_mm: float,
    depth_mm: float,
    may_turn: bool = True,
    node_limit: int = 2000,
    wants_proof: bool = True,
) -> Packing:
    """Place all the rectangles on the shelf, or say that no way was found.

    Parameters
    ----------
    sizes : sequence of (width, depth)
        Rectangles with their gap [mm].
    width_mm, depth_mm : float
        Shelf with its gap [mm].
    may_turn : bool
        Whether a rectangle may be turned by a quarter.
    node_limit : int
        Positions looked at by each of the two searches before it gives up.
    wants_proof : bool
        Whether the second, complete search is made where the first found nothing.

    References
    ----------
    J. Jylänki, A Thousand Ways to Pack the Bin (2010), MAXRECTS (from memory); normal
    patterns after N. Christofides and C. Whitlock (1977, from memory).
    """
    area = sum(width * depth for width, depth in sizes)
    if area > width_mm * depth_mm + SLACK_MM or any(
        not _fits(size, width_mm, depth_mm, may_turn) for size in sizes
    ):
        return Packing(spots=None, is_proved=True, nodes=0)
    for order, by_corner in _tries(sizes):
        spots = _lay(sizes, order, width_mm, depth_mm, may_turn, by_corner)
        if spots is not None:
            return Packing(spots=spots, is_proved=True, nodes=0)
    if node_limit <= 0:
        return Packing(spots=None, is_proved=False, nodes=0)
    skyline = _SkylineSearch(sizes, width_mm, depth_mm, may_turn, node_limit)
    found = skyline.run()
    if found is not None or not wants_proof or len(sizes) > MOST_FOR_PROOF:
        return Packing(spots=found, is_proved=found is not None, nodes=skyline.nodes)
    patterns = _PatternSearch(sizes, width_mm, depth_mm, may_turn, node_limit)
    found = patterns.run()
    return Packing(
        spots=found,
        is_proved=found is not None or not patterns.gave_up,
        nodes=skyline.nodes + patterns.nodes,
    )


def _fits(size: Size, width: float, depth: float, may_turn: bool) -> bool:  # noqa: FBT001 - only passed on
    w, d = size
    straight = w <= width + SLACK_MM and d <= depth + SLACK_MM
    turned = d <= width + SLACK_MM and w <= depth + SLACK_MM
    return straight or (may_turn and turned)


def _tries(sizes: Sequence[Size]) -> Iterator[tuple[list[int], bool]]:
    """Yield orders of placing; those that succeed most often come first."""
    numbers = range(len(sizes))
    orders: dict[tuple[Size, ...], list[int]] = {}
    for key in _KEYS:
        order = sorted(numbers, key=lambda n: key(sizes[n]))
        orders.setdefault(tuple(sizes[n] for n in order), order)
    for by_corner in (True, False):
        for order in orders.values():
            yield order, by_corner


_KEYS: tuple[Callable[[Size], tuple[float, ...]], ...] = (
    lambda size: (-max(size), -min(size)),
    lambda size: (-size[0] * size[1],),
    lambda size: (-size[1], -size[0]),
    lambda size: (-size[0], -size[1]),
)


def _lay(
    sizes: Sequence[Size],
    order: Sequence[int],
    width: float,
    depth: float,
    may_turn: bool,  # noqa: FBT001 - only passed on
    by_corner: bool,  # noqa: FBT001 - only passed on
) -> tuple[Spot, ...] | None:
    """Place one after another into the largest free rectangles."""
    find = _front_left if by_corner else _short_side
    holes: list[Hole] = [(0.0, 0.0, width, depth)]
    spots: list[Spot] = [(0.0, 0.0, False)] * len(sizes)
    for number in order:
        size = sizes[number]
        spot = find(holes, size, may_turn)
        if spot is None:
            return None
        spots[number] = spot
        holes = without(holes, size, spot)
    return tuple(spots)


def _front_left(holes: Sequence[Hole], size: Size, may_turn: bool) -> Spot | None:  # noqa: FBT001 - only passed on
    """Return the place furthest to the front, then to the left."""
    w, d = size
    best_x = best_y = inf
    found = None
    for turned in (False, True) if may_turn and w != d else (False,):
        if turned:
            w, d = d, w
        for x, y, right, back in holes:
            if (
                (y < best_y or (y == best_y and x < best_x))
                and right - x >= w - SLACK_MM
                and back - y >= d - SLACK_MM
            ):
                best_x, best_y = x, y
                found = (x, y, turned)
    return found


def _short_side(holes: Sequence[Hole], size: Size, may_turn: bool) -> Spot | None:  # noqa: FBT001 - only passed on
    """Return the place that leaves the narrowest strip beside it."""
    w, d = size
    best = best_other = inf
    found = None
    for turned in (False, True) if may_turn and w != d else (False,):
        if turned:
            w, d = d, w
        for x, y, right, back in holes:
            spare, other = right - x - w, back - y - d
            if spare > other:
                spare, other = other, spare
            if spare >= -SLACK_MM and (
                spare < best or (spare == best and other < best_other)
            ):
                best, best_other = spare, other
                found = (x, y, turned)
    return found


def place_in(holes: Sequence[Hole], size: Size) -> Spot | None:
    """Return a place for one more rectangle in the free ones; None if there is none.

    Parameters
    ----------
    holes : sequence of (left, front, right, back)
        Free rectangles, as `holes_round` finds them [mm].
    size : (width, depth)
        Of the rectangle, which may be turned [mm].

    References
    ----------
    MAXRECTS, best short side (see `pack`).
    """
    return _short_side(holes, size, may_turn=True)


def holes_round(
    sizes: Sequence[Size], spots: Sequence[Spot], *, width_mm: float, depth_mm: float
) -> list[Hole]:
    """Return the largest free rectangles around what is on a shelf.

    Parameters
    ----------
    sizes : sequence of (width, depth)
        Rectangles with their gap [mm].
    spots : sequence of (x, y, is_turned)
        Where they lie [mm].
    width_mm, depth_mm : float
        Shelf with its gap [mm].

    References
    ----------
    MAXRECTS (see `pack`).
    """
    holes: list[Hole] = [(0.0, 0.0, width_mm, depth_mm)]
    for size, spot in zip(sizes, spots, strict=True):
        holes = without(holes, size, spot)
    return holes


def without(holes: Sequence[Hole], size: Size, spot: Spot) -> list[Hole]:
    """Return the largest free rectangles that remain around a placed one.

    Parameters
    ----------
    holes : sequence of (left, front, right, back)
        Free before [mm].
    size : (width, depth)
        Of what is laid [mm].
    spot : (x, y, is_turned)
        Where it lies [mm].

    References
    ----------
    MAXRECTS (see `pack`).
    """
    left, front, turned = spot
    w, d = size
    if turned:
        w, d = d, w
    right, back = left + w, front + d
    kept: list[Hole] = []
    cut: list[Hole] = []
    for hole in holes:
        x, y, end, top = hole
        if (
            left >= end - SLACK_MM
            or right <= x + SLACK_MM
            or front >= top - SLACK_MM
            or back <= y + SLACK_MM
        ):
            kept.append(hole)
            continue
        if left > x + SLACK_MM:
            cut.append((x, y, left, top))
        if right < end - SLACK_MM:
            cut.append((right, y, end, top))
        if front > y + SLACK_MM:
            cut.append((x, y, end, front))
        if back < top - SLACK_MM:
            cut.append((x, back, end, top))
    if len(cut) > 1:
        # Larger ones first: only they can hold others, and equal ones count once.
        cut.sort(key=_area, reverse=True)
    for x, y, end, top in cut:
        for ox, oy, oend, otop in kept:
            if (
                ox <= x + SLACK_MM
                and oy <= y + SLACK_MM
                and oend >= end - SLACK_MM
                and otop >= top - SLACK_MM
            ):
                break
        else:
            kept.append((x, y, end, top))
    return kept


def _area(hole: Hole) -> float:
    return (hole[2] - hole[0]) * (hole[3] - hole[1])


def _ways(size: Size, may_turn: bool) -> tuple[tuple[float, float, bool], ...]:  # noqa: FBT001 - only passed on
    """Return width, depth and whether it is turned, for each way to place it."""
    w, d = size
    if may_turn and w != d:
        return (w, d, False), (d, w, True)
    return ((w, d, False),)


class _Search:
    """What is placed where, largest first, within a limit of nodes."""

    def __init__(
        self,
        sizes: Sequence[Size],
        width: float,
        depth: float,
        may_turn: bool,  # noqa: FBT001 - only passed on
        node_limit: int,
    ) -> None:
        self.sizes = sizes
        self.width = width
        self.depth = depth
        self.may_turn = may_turn
        self.node_limit = node_limit
        self.nodes = 0
        self.order = sorted(
            range(len(sizes)), key=lambda n: (-sizes[n][0] * sizes[n][1], n)
        )


class _SkylineSearch(_Search):
    """Depth first: something on the lowest place of the skyline, or nothing there.

    It finds every packing without waste, and most others, but proves nothing.
    """

    def run(self) -> tuple[Spot, ...] | None:
        self.spots: list[Spot | None] = [None] * len(self.sizes)
        waste = self.width * self.depth - sum(w * d for w, d in self.sizes)
        if not self._place(((0.0, self.width, 0.0),), waste, tuple(self.order)):
            return None
        return tuple(spot for spot in self.spots if spot is not None)

    def _place(
        self,
        line: tuple[tuple[float, float, float], ...],
        waste: float,
        left: tuple[int, ...],
    ) -> bool:
        if not left:
            return True
        self.nodes += 1
        if self.nodes > self.node_limit:
            return False
        at = min(range(len(line)), key=lambda n: (line[n][2], line[n][0]))
        x, end, y = line[at]
        seen = set()
        for number in left:
            for wide, deep, turned in _ways(self.sizes[number], self.may_turn):
                if (
                    (wide, deep) in seen
                    or wide > end - x + SLACK_MM
                    or y + deep > self.depth + SLACK_MM
                ):
                    continue
                seen.add((wide, deep))
                rest = ((x + wide, end, y),) if x + wide < end - SLACK_MM else ()
                raised = _level(
                    (*line[:at], (x, x + wide, y + deep), *rest, *line[at + 1 :])
                )
                self.spots[number] = (x, y, turned)
                others = tuple(n for n in left if n != number)
                if self._place(raised, waste, others):
                    return True
                self.spots[number] = None
        walls = [line[n][2] for n in (at - 1, at + 1) if 0 <= n < len(line)]
        top = min(walls, default=self.depth)
        lost = (end - x) * (top - y)
        if not walls or lost > waste + SLACK_MM:
            return False
        raised = _level((*line[:at], (x, end, top), *line[at + 1 :]))
        return self._place(raised, waste - lost, left)


def _level(
    line: tuple[tuple[float, float, float], ...],
) -> tuple[tuple[float, float, float], ...]:
    """Join neighbours of equal height."""
    result = [line[0]]
    for start, end, height in line[1:]:
        if abs(result[-1][2] - height) < SLACK_MM:
            result[-1] = (result[-1][0], end, height)
        else:
            result.append((start, end, height))
    return tuple(result)


class _PatternSearch(_Search):
    """Every rectangle at every sum of sides: complete, if it ends in time."""

    gave_up = False

    def run(self) -> tuple[Spot, ...] | None:
        self.xs, self.ys = self._sums(self.width, 0), self._sums(self.depth, 1)
        laid: list[tuple[float, float, float, float, bool]] = []
        if not self._place(0, laid):
            return None
        spots: list[Spot] = [(0.0, 0.0, False)] * len(self.sizes)
        for number, (x, y, _, _, turned) in zip(self.order, laid, strict=True):
            spots[number] = (x, y, turned)
        return tuple(spots)

    def _sums(self, limit: float, side: int) -> list[float]:
        sums = {0.0}
        for size in self.sizes:
            sides = size if self.may_turn else (size[side],)
            sums |= {s + x for s in sums for x in sides if s + x < limit - SLACK_MM}
        return sorted(sums)

    def _place(
        self, at: int, laid: list[tuple[float, float, float, float, bool]]
    ) -> bool:
        if at == len(self.order):
            return True
        for wide, deep, turned in _ways(self.sizes[self.order[at]], self.may_turn):
            # The first one may be kept in one quarter: the rest is its mirror image.
            most_x = self.width - wide if at else (self.width - wide) / 2
            most_y = self.depth - deep if at else (self.depth - deep) / 2
            for x in self.xs:
                if x > most_x + SLACK_MM:
                    break
                for y in self.ys:
                    if y > most_y + SLACK_MM:
                        break
                    self.nodes += 1
                    if self.nodes > self.node_limit:
                        self.gave_up = True
                        return False
                    if _is_clear(x, y, x + wide, y + deep, laid):
                        laid.append((x, y, x + wide, y + deep, turned))
                        if self._place(at + 1, laid):
                            return True
                        laid.pop()
        return False


def _is_clear(
    left: float,
    front: float,
    right: float,
    back: float,
    laid: Sequence[tuple[float, float, float, float, bool]],
) -> bool:
    return not any(
        left < r - SLACK_MM
        and right > x + SLACK_MM
        and front < b - SLACK_MM
        and back > y + SLACK_MM
        for x, y, r, b, _ in laid
    )
