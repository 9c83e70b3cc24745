"""Empties a few firings near each other in time and places their layers again, in
whichever kilns and nights are cheapest for them. Nobody's hours change.
"""

from bisect import bisect_left

from firing.planning.problem.loads import EMPTY, FULL
from firing.planning.search.board import UNITS_PER_PACKING, Board
from firing.planning.search.placing import FiringKey, PlacedFiring
from studio.seeded_random import Dice

# How many nights apart firings may be to be repacked together, and how many at most.
NIGHTS_APART = 8
MOST_FIRINGS = 4
# Nights looked at beside those of the emptied firings.
MOST_NIGHTS = 6
# Sizes and prices count up to this much more by chance, so that no two tries are equal.
NOISE = 0.1


def repack_some(board: Board, firing: PlacedFiring, dice: Dice) -> bool:
    """Repack a firing's layers together with some firings near it.

    False, and nothing changed, if some layer found no place.

    Parameters
    ----------
    board : Board
        Changed in place when it works; its journal goes on.
    firing : PlacedFiring
        One that stands.
    dice : Dice
        Of the search.

    References
    ----------
    Greedy set cover (V. Chvatal 1979, from memory): the firing that costs least for
    the glass it takes comes first.
    """
    mark = len(board.journal)
    chosen = [firing, *_near(board, firing, dice)]
    rooms = {n: board.room_for(n) for one in chosen for n in one.items}
    nights = sorted({one.key.night for one in chosen})
    items = sorted(rooms)
    for one in chosen:
        for n in list(one.items):
            board.lift(n, one)
    if _lay_all(board, firing.key.kind, items, rooms, nights, dice):
        return True
    board.rollback(mark)
    return False


def _near(board: Board, firing: PlacedFiring, dice: Dice) -> list[PlacedFiring]:
    kind, night = firing.key.kind, firing.key.night
    at_night = board.at_night[kind]
    around = range(
        max(0, night - NIGHTS_APART), min(len(at_night), night + NIGHTS_APART + 1)
    )
    others = [one for n in around for one in at_night[n] if one is not firing]
    dice.shuffle(others)
    return others[: 1 + dice.below(MOST_FIRINGS - 1)]


def _lay_all(
    board: Board,
    kind: int,
    items: list[int],
    rooms: dict[int, tuple[int, int]],
    nights: list[int],
    dice: Dice,
) -> bool:
    facts = board.facts
    size_of = {n: facts.pieces[facts.passes[n].piece].size for n in items}
    areas = facts.shelves[0][kind].areas
    blur = {n: areas[size_of[n]] * (1 + NOISE * dice.unit()) for n in items}
    left = sorted(items, key=lambda n: -blur[n])
    if dice.below(2):
        left = [n for n in left if not _join(board, kind, n, rooms[n])]
    spare = _spare_nights(board, kind, rooms, left, dice)
    candidates = sorted({*nights, *spare})
    while left:
        best = _cheapest(board, kind, left, rooms, candidates, size_of, dice)
        if best is None:
            left = [n for n in left if not _join(board, kind, n, rooms[n])]
            return not left
        key, taken = best
        board.open_with(key, taken)
        left = [n for n in left if n not in taken]
        left = [n for n in left if not _join(board, kind, n, rooms[n])]
    return True


def _spare_nights(
    board: Board,
    kind: int,
    rooms: dict[int, tuple[int, int]],
    left: list[int],
    dice: Dice,
) -> list[int]:
    """Return some nights in the room of a layer drawn by chance."""
    if not left:
        return []
    earliest, latest = rooms[dice.pick(left)]
    first = bisect_left(board.facts.night_starts[kind], earliest)
    ends = board.facts.night_ends[kind]
    nights = range(first, min(first + MOST_NIGHTS, len(ends)))
    return [night for night in nights if ends[night] <= latest]


def _join(board: Board, kind: int, n: int, room: tuple[int, int]) -> bool:
    """Place a layer in the first existing firing with room for it."""
    facts = board.facts
    ends = facts.night_ends[kind]
    night = bisect_left(facts.night_starts[kind], room[0])
    while night < len(ends) and ends[night] <= room[1]:
        board.work_units += 1
        for other in board.at_night[kind][night]:
            if board.lay(n, other):
                return True
        night += 1
    return False


def _cheapest(
    board: Board,
    kind: int,
    left: list[int],
    rooms: dict[int, tuple[int, int]],
    nights: list[int],
    size_of: dict[int, int],
    dice: Dice,
) -> tuple[FiringKey, list[int]] | None:
    """Return the new firing that costs least for its area."""
    facts = board.facts
    best: tuple[FiringKey, list[int]] | None = None
    best_price = 0.0
    for night in nights:
        mask = board.free[kind][night]
        if not mask:
            continue
        run = facts.nights[kind][night]
        inside = [
            n for n in left if rooms[n][0] <= run.start and run.end <= rooms[n][1]
        ]
        if not inside:
            continue
        seen = set()
        for kiln in range(len(facts.kilns)):
            shelf = facts.shelves[kiln][kind]
            look = (id(shelf), facts.firing_mwh[kiln])
            if not mask >> kiln & 1 or look in seen:
                continue
            seen.add(look)
            state, taken = EMPTY, []
            packed = shelf.packed
            for n in inside:
                piece = facts.pieces[facts.passes[n].piece]
                if piece.kilns_for[kind] >> kiln & 1:
                    more = shelf.add(state, size_of[n])
                    if more != FULL:
                        state = more
                        taken.append(n)
            board.work_units += 1 + len(inside) // 2
            board.work_units += UNITS_PER_PACKING * (shelf.packed - packed)
            if not taken:
                continue
            price = facts.firing_mwh[kiln] / shelf.covered[state]
            price *= 1 + NOISE * dice.unit()
            if best is None or price < best_price:
                best, best_price = (FiringKey(kiln, kind, night), taken), price
    return best
