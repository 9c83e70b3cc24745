"""What no plan can beat: energy, kiln nights and weighted days late from below.

Bounds are valid, not tight; a plan's distance to them is shown as it is.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor, inf

from firing.planning.problem.access import AccessTimes, Run
from firing.planning.problem.loads import Shelf
from firing.planning.problem.problem import days_late, delivery_day
from firing.planning.problem.problem_tables import MILLI, Facts, PieceFacts

Scale = Callable[[float], float]
# Ratios of lengths: far below a hair on a shelf.
TINY = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """Lower bounds of the aims.

    Attributes
    ----------
    weighted_days_late : int
        Each piece alone in an otherwise empty studio.
    kwh : float
        Fuses in the cheapest kiln, layers by the shelf they cover [kWh].
    nights : dict
        Per kind of enamel firing, the least number of firings.
    """

    weighted_days_late: int
    kwh: float
    nights: dict[str, int]


def lower_bounds(facts: Facts) -> Bounds:
    """Return all lower bounds of a problem.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.

    References
    ----------
    Relaxations, each named at its function.
    """
    late = 0
    for piece in facts.pieces:
        day = earliest_delivery_alone(facts, piece)
        if day is not None:
            late += piece.piece.weight * days_late(piece.piece, day)
    fuses = sum(min(p.fuse_mwh.values()) for p in facts.pieces if p.fuse_mwh)
    enamel = sum(enamel_mwh(facts, kind) for kind in range(len(facts.kinds)))
    return Bounds(
        weighted_days_late=late,
        kwh=floor(fuses + enamel) / MILLI,
        nights={
            kind.id: enamel_firings(facts, number)
            for number, kind in enumerate(facts.kinds)
        },
    )


def identity(ratio: float) -> float:
    """Return the ratio: the bound by area.

    Parameters
    ----------
    ratio : float
        Side of a layer over side of the shelf, gaps included.

    References
    ----------
    Arithmetic.
    """
    return ratio


def rounded(parts: int) -> Scale:
    """Return a scale that counts how many `parts + 1` ths of the shelf a side fills.

    Parameters
    ----------
    parts : int
        At least 1; with 1, a side above half the shelf counts whole.

    References
    ----------
    S. Fekete and J. Schepers, New classes of lower bounds for bin packing problems
    (1998, from memory): dual feasible function u(k).
    """

    def scale(ratio: float) -> float:
        steps = ratio * (parts + 1)
        if abs(steps - round(steps)) < TINY:
            return ratio
        return floor(steps) / parts

    return scale


def cut_off(small: float) -> Scale:
    """Return a scale that leaves out small sides and counts whole what they fit beside.

    Parameters
    ----------
    small : float
        At most a half; sides below this part of the shelf count nothing, sides above
        the rest of it count whole.

    References
    ----------
    S. Martello and P. Toth (1990, from memory), bound L2 as a dual feasible function:
    at most one side is above `1 - small`, and what lies beside it is below `small`.
    """

    def scale(ratio: float) -> float:
        if ratio > 1 - small + TINY:
            return 1.0
        return 0.0 if ratio < small - TINY else ratio

    return scale


SCALES: tuple[Scale, ...] = (
    identity,
    rounded(1),
    rounded(2),
    rounded(3),
    rounded(4),
    cut_off(0.3),
    cut_off(0.4),
)
PAIRS = [(one, two) for one in SCALES for two in SCALES]
# In a large problem all shelves share a few pairs: finding each its own takes too long.
FEW_PAIRS = [(one, two) for one in SCALES[:4] for two in SCALES[:4]]
MOST_COSTS = 1000
SWEEPS = 4


def _share(shelf: Shelf, size: int, scales: tuple[Scale, Scale]) -> float:
    """Return the least share of a shelf that a layer needs, turned or not."""
    width, depth = shelf.sizes[size]
    ways = [
        scales[0](w / shelf.width) * scales[1](d / shelf.depth)
        for w, d in ((width, depth), (depth, width))
        if w <= shelf.width + TINY and d <= shelf.depth + TINY
    ]
    return min(ways, default=1.0)


@dataclass(frozen=True, slots=True)
class _Row:
    """Equal layers, and the shelves that take them by number, with the least price."""

    count: int
    size: int
    prices: dict[int, float]


def _sum_over_layers(facts: Facts, kind: int, price: Callable[[int], float]) -> float:
    """Return the best bound found, with a price per whole shelf.

    On one shelf the scaled areas of what lies there never exceed 1, for any pair of
    scales; so each layer pays its scaled part of the price of its shelf, and no plan
    pays less than if every layer chose the shelf where its part is cheapest. The pair
    may be another one for each shelf.
    """
    shelves: dict[int, Shelf] = {}
    counts: dict[tuple[int, int], int] = {}
    for piece in facts.pieces:
        number = sum(p.kind == kind for p in piece.passes)
        key = (piece.size, piece.kilns_for[kind])
        counts[key] = counts.get(key, 0) + number
    rows = []
    for (size, kilns), count in counts.items():
        prices: dict[int, float] = {}
        for kiln in range(len(facts.kilns)):
            if count and kilns >> kiln & 1:
                shelf = facts.shelves[kiln][kind]
                shelves[id(shelf)] = shelf
                prices[id(shelf)] = min(price(kiln), prices.get(id(shelf), inf))
        if prices:
            rows.append(_Row(count, size, prices))
    if len(rows) * len(shelves) > MOST_COSTS:
        return max(
            _total(rows, [_costs(rows, shelf, pair) for shelf in shelves.values()])
            for pair in FEW_PAIRS
        )
    # The same for all shelves first, then one shelf after the other, while it helps.
    tables = [[_costs(rows, s, pair) for pair in PAIRS] for s in shelves.values()]
    totals = [_total(rows, [t[n] for t in tables]) for n in range(len(PAIRS))]
    best = max(totals, default=0.0)
    chosen = [table[totals.index(best)] for table in tables]
    for _ in range(SWEEPS):
        before = best
        for at, table in enumerate(tables):
            others = [*chosen[:at], *chosen[at + 1 :]]
            least = [min((c[n] for c in others), default=inf) for n in range(len(rows))]
            for costs in table:
                total = _total(rows, [least, costs])
                if total > best:
                    best, chosen[at] = total, costs
        if best <= before:
            break
    return best


def _costs(rows: list[_Row], shelf: Shelf, pair: tuple[Scale, Scale]) -> list[float]:
    """Return what a layer of each row pays on this shelf; infinite where it cannot lie."""
    return [
        row.prices[id(shelf)] * _share(shelf, row.size, pair)
        if id(shelf) in row.prices
        else inf
        for row in rows
    ]


def _total(rows: list[_Row], costs: list[list[float]]) -> float:
    total = 0.0
    for row, column in zip(rows, zip(*costs, strict=True), strict=True):
        total += row.count * min(column)
    return total


def enamel_mwh(facts: Facts, kind: int) -> float:
    """Return the least energy of all firings of a kind [thousandths of a kWh].

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    kind : int
        Number of the kind.

    References
    ----------
    Each layer pays for its part of the shelf, in the kiln where that is cheapest.
    """
    return _sum_over_layers(facts, kind, lambda kiln: facts.firing_mwh[kiln])


def enamel_firings(facts: Facts, kind: int) -> int:
    """Return the least number of firings of a kind.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    kind : int
        Number of the kind.

    References
    ----------
    As `enamel_mwh` with every firing at the price of one.
    """
    return ceil(_sum_over_layers(facts, kind, lambda _: 1.0) - 1e-6)


def earliest_delivery_alone(facts: Facts, piece: PieceFacts) -> int | None:
    """Return a day before which the piece cannot be ready; None without room for it.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    piece : PieceFacts
        One of its pieces.

    References
    ----------
    The studio is empty but for what is fixed: painting without waits, the last layer's
    shortest firing, any kiln that takes the stack, whoever can finish it first.
    """
    stages = stages_alone(facts, piece)
    return None if stages is None else day_after_fuse(facts, piece, stages.fused)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """Slots before which a piece is not fired, assembled and fused."""

    fired: int
    assembled: int
    fused: int


def stages_alone(facts: Facts, piece: PieceFacts) -> Stages | None:
    """Return before which slots no stage of a piece ends; None without room for it.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    piece : PieceFacts
        One of its pieces.

    References
    ----------
    As `earliest_delivery_alone`.
    """
    one, access = piece.piece, facts.access
    labour = sum(p.labour for p in piece.passes)
    done = worked_alone(facts, piece.artist, one.release, labour)
    if done is None:
        return None
    fired = done
    if piece.passes:
        ends = [
            run.end
            for kind in sorted({p.kind for p in piece.passes})
            if (run := _run(access, facts, kind, done)) is not None
        ]
        if not ends:
            return None
        fired = max(min(ends), *(_chain_end(facts, piece, n) for n in _chains(piece)))
    fired = max(fired, one.release)
    assembled = worked_alone(facts, piece.artist, fired, one.assembly)
    if assembled is None:
        return None
    fused = _fused(facts, piece, assembled)
    if fused is None:
        return None
    return Stages(fired=fired, assembled=assembled, fused=fused)


def day_from_fuse(facts: Facts, piece: PieceFacts, ready: int) -> int | None:
    """Return the earliest day of delivery of a stack that is assembled at `ready`.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    piece : PieceFacts
        One of its pieces.
    ready : int
        First slot after the assembly.

    References
    ----------
    The studio is empty but for closures and fixed firings.
    """
    fused = _fused(facts, piece, ready)
    return None if fused is None else day_after_fuse(facts, piece, fused)


def day_after_fuse(facts: Facts, piece: PieceFacts, ready: int) -> int | None:
    """Return the earliest day of delivery of a slab that is unloaded at `ready`.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    piece : PieceFacts
        One of its pieces.
    ready : int
        First slot after the fuse.

    References
    ----------
    Whoever can finish it first, without other work.
    """
    one = piece.piece
    if one.coldwork:
        done = [
            end
            for person in facts.cold_workers
            if (end := worked_alone(facts, person, ready, one.coldwork)) is not None
        ]
        if not done:
            return None
        ready = min(done)
    return delivery_day(ready, one.ship_days)


def _fused(facts: Facts, piece: PieceFacts, ready: int) -> int | None:
    """Return when a stack assembled at `ready` could be fused; at once without a fuse."""
    if piece.piece.fuse is None:
        return ready
    ends = [
        end
        for kiln in piece.fuse_kilns
        if (end := _first_end(facts, kiln, piece, ready)) is not None
    ]
    return min(ends, default=None)


def _run(access: AccessTimes, facts: Facts, kind: int, ready: int) -> Run | None:
    one = facts.kinds[kind]
    return access.run_from(ready, one.load, one.run, one.unload)


def worked_alone(facts: Facts, person: int, ready: int, length: int) -> int | None:
    """Return when a person without other work has done this much; None if never.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    person : int
        Number of the person.
    ready, length : int
        From when, and how much [slots].

    References
    ----------
    Weekly limits are kept within one task only, which leaves the bound valid.
    """
    hours = facts.empty_hours[person]
    found = hours.take(ready, length)
    if found is None:
        return None
    hours.put_back(found[1])
    return found[0]


def _chains(piece: PieceFacts) -> list[int]:
    return [n for n, layer in enumerate(piece.layers) if layer]


def _chain_end(facts: Facts, piece: PieceFacts, layer: int) -> int:
    """Return when one layer alone could be out of its last firing; 0 if unknown."""
    ready = piece.piece.release
    for one in piece.layers[layer]:
        start = max(ready, one.not_before)
        done = worked_alone(facts, piece.artist, start, one.labour)
        run = None if done is None else _run(facts.access, facts, one.kind, done)
        if run is None:
            return 0
        ready = run.end
    return ready


def _first_end(facts: Facts, kiln: int, piece: PieceFacts, ready: int) -> int | None:
    fuse = piece.piece.fuse
    if fuse is None:
        return ready
    while True:
        run = facts.access.run_from(ready, fuse.load, fuse.run, fuse.unload)
        if run is None:
            return None
        for start, end in facts.closed[kiln]:
            if start < run.end and run.start < end:
                ready = end
                break
        else:
            return run.end
