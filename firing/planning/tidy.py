"""Fewer and cheaper firings without touching anybody's hours: thin firings are emptied
into others, and firings move to cheaper kilns. Lateness never changes here.
"""

from collections.abc import Callable, Iterator

from firing.planning.access import first_night
from firing.planning.board import Board, Firing, FiringKey


def never() -> bool:
    """Say that there is no fence."""
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


def _thinnest_first(board: Board) -> list[FiringKey]:
    return sorted(board.firings, key=lambda key: (len(board.firings[key].items), key))


def empty(board: Board, firing: Firing) -> bool:
    """Move every layer of a firing into other firings; all of them or none.

    Parameters
    ----------
    board : Board
        Changed in place when it works.
    firing : Firing
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


def _others(board: Board, item: int, firing: Firing) -> Iterator[Firing]:
    """Yield firings of the kind that the layer could go into without moving work."""
    kind = firing.key.kind
    earliest, latest = board.room_for(item)
    ends = board.facts.night_ends[kind]
    night = first_night(board.facts.nights[kind], earliest)
    while night < len(ends) and ends[night] <= latest:
        for other in board.at_night[kind][night]:
            if other is not firing:
                yield other
        night += 1


def move_to_cheaper(board: Board, firing: Firing) -> bool:
    """Move a firing to the cheapest kiln and night that take all of it.

    Parameters
    ----------
    board : Board
        Changed in place when it works.
    firing : Firing
        One that stands.

    References
    ----------
    As `tidy`.
    """
    kiln, kind, _ = firing.key
    prices = board.facts.firing_mwh
    if prices[kiln] == prices[0]:
        return False
    rooms = [board.room_for(item) for item in firing.items]
    earliest = max(room[0] for room in rooms)
    latest = min(room[1] for room in rooms)
    runs = board.facts.nights[kind]
    night = first_night(runs, earliest)
    nights = []
    while night < len(runs) and runs[night].end <= latest:
        nights.append(night)
        night += 1
    for cheaper in range(kiln):
        if prices[cheaper] >= prices[kiln]:
            break
        for night in nights:
            if board.free[kind][night] >> cheaper & 1 and board.move_firing(
                firing, cheaper, night
            ):
                return True
    return False
