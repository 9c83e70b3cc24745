"""Fewer and cheaper firings without touching anybody's hours: thin firings are emptied
into others, and firings move to cheaper kilns. Lateness never changes here.
"""

from collections.abc import Callable, Iterator

from firing.planning.problem.access import first_night
from firing.planning.search.board import Board
from firing.planning.search.placing import FiringKey, Kept, PlacedFiring

# Layers that do not fit a cheaper kiln; more than these hardly ever find a place.
MOST_SPILLED = 2


def never() -> bool:
    """Return that there is no fence."""
    return False


def tidy(board: Board, fence: Callable[[], bool] = never) -> int:
    """Merge thin firings and move firings to cheaper kilns until nothing helps.

    Returns the energy saved, in thousandths of a kWh.

    Parameters
    ----------
    board : Board
        Changed in place; its journal goes on.
    fence : callable
        Asked before every firing; True ends the tidying where it is.

    References
    ----------
    Common practice in workshops: wait for a full kiln; no source.
    """
    before = board.mwh
    while True:
        start = board.mwh
        for key in _thinnest_first(board):
            firing = board.firings.get(key)
            if fence():
                return before - board.mwh
            if firing is not None:
                empty(board, firing)
        for key in _thinnest_first(board):
            firing = board.firings.get(key)
            if fence():
                return before - board.mwh
            if firing is not None:
                move_to_cheaper(board, firing)
        if board.mwh >= start:
            return before - board.mwh


def bring_forward(board: Board, fence: Callable[[], bool] = never) -> None:
    """Assemble, fuse and finish pieces earlier where that costs nothing.

    Parameters
    ----------
    board : Board
        Changed in place; its journal goes on.
    fence : callable
        Asked before every piece; True ends it where it is.

    References
    ----------
    Left shift; common in scheduling.
    """
    rows = [(placed.day, n) for n, placed in enumerate(board.placed) if placed]
    for _, number in sorted(rows):
        placed = board.placed[number]
        if fence() or placed is None:
            return
        mark, before = len(board.journal), board.score
        passes = board.facts.pieces[number].passes
        kept = Kept(
            {p.number: work for p, work in zip(passes, placed.paint, strict=True)},
            {p.number: key for p, key in zip(passes, placed.firings, strict=True)},
            None,
            None,
            None,
            {},
        )
        board.remove(number)
        if not board.insert(number, kept=kept) or board.score >= before:
            board.rollback(mark)


def _thinnest_first(board: Board) -> list[FiringKey]:
    return sorted(board.firings, key=lambda key: (len(board.firings[key].items), key))


def empty(board: Board, firing: PlacedFiring) -> bool:
    """Move every layer of a firing into other firings; all of them or none.

    Parameters
    ----------
    board : Board
        Changed in place when it works.
    firing : PlacedFiring
        One that stands.

    References
    ----------
    As `tidy`.
    """
    mark = len(board.journal)
    for item in sorted(firing.items):
        for other in _others(board, item, firing):
            if board.relocate(item, other.key):
                break
        else:
            board.rollback(mark)
            return False
    return True


def _others(board: Board, item: int, firing: PlacedFiring) -> Iterator[PlacedFiring]:
    """Yield firings of the kind that could take the layer without moving work."""
    kind = firing.key.kind
    earliest, latest = board.room_for(item)
    ends = board.facts.night_ends[kind]
    night = first_night(board.facts.nights[kind], earliest)
    while night < len(ends) and ends[night] <= latest:
        for other in board.at_night[kind][night]:
            if other is not firing:
                yield other
        night += 1


def move_to_cheaper(board: Board, firing: PlacedFiring) -> bool:
    """Replace a firing by one in a cheaper kiln; layers that do not fit go elsewhere.

    Parameters
    ----------
    board : Board
        Changed in place when it works.
    firing : PlacedFiring
        One that stands.

    References
    ----------
    As `tidy`.
    """
    kiln, kind, _ = firing.key
    facts = board.facts
    prices = facts.firing_mwh
    if prices[kiln] == prices[0]:
        return False
    rooms = {item: board.room_for(item) for item in firing.items}
    sizes = {item: facts.pieces[facts.passes[item].piece].size for item in firing.items}
    runs = facts.nights[kind]
    # The largest are the hardest to place elsewhere.
    items = sorted(rooms, key=lambda n: (-facts.shelves[kiln][kind].areas[sizes[n]], n))
    night = first_night(runs, min(room[0] for room in rooms.values()))
    latest = max(room[1] for room in rooms.values())
    nights = []
    while night < len(runs) and runs[night].end <= latest:
        nights.append(night)
        night += 1
    free, shelves = board.free[kind], facts.shelves
    tried = set()
    for cheaper in range(kiln):
        if prices[cheaper] >= prices[kiln]:
            break
        for night in nights:
            # Equal kilns are tried once a night.
            look = (id(shelves[cheaper][kind]), prices[cheaper], night)
            if not free[night] >> cheaper & 1 or look in tried:
                continue
            tried.add(look)
            if _spread(board, firing, FiringKey(cheaper, kind, night), items, rooms):
                return True
    return False


def _spread(
    board: Board,
    firing: PlacedFiring,
    key: FiringKey,
    items: list[int],
    rooms: dict[int, tuple[int, int]],
) -> bool:
    """Open a firing for the items of another one, and place the rest elsewhere."""
    facts = board.facts
    run = facts.nights[key.kind][key.night]
    inside = [n for n in items if rooms[n][0] <= run.start and run.end <= rooms[n][1]]
    if not inside:
        return False
    shelf = facts.shelves[key.kiln][key.kind]
    state, chosen, rest = 0, [], [n for n in items if n not in inside]
    for n in inside:
        piece = facts.pieces[facts.passes[n].piece]
        more = -1
        if piece.kilns_for[key.kind] >> key.kiln & 1:
            more = shelf.add(state, piece.size)
        if more < 0:
            rest.append(n)
        else:
            state = more
            chosen.append(n)
    board.work_units += 1
    if not chosen or len(rest) > MOST_SPILLED:
        return False
    mark = len(board.journal)
    for n in rest:
        for other in _others(board, n, firing):
            if board.relocate(n, other.key):
                break
        else:
            board.rollback(mark)
            return False
    board.open_for(chosen, firing, key)
    return True
