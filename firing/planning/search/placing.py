"""The parts of a plan in progress: where a piece is, how it is put in, and what of it
should stay. `board` holds the whole state.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from firing.planning.packing.packing import Spot
from firing.planning.problem.hours import Share
from firing.planning.problem.loads import EMPTY
from firing.planning.problem.problem_tables import PassFacts, PieceFacts


class Score(NamedTuple):
    """The aims in their order: no later one can outweigh an earlier one."""

    undelivered: int
    weighted_days_late: int
    moves: int
    mwh: int
    delivery_days: int


class Labour(NamedTuple):
    """Labour of one person: assigned slots, and the first and last of them."""

    person: int
    shares: list[Share]
    start: int
    end: int


class FiringKey(NamedTuple):
    """An enamel firing: kiln, kind and number of the night."""

    kiln: int
    kind: int
    night: int


class FuseSlot(NamedTuple):
    """A fuse in a kiln [slots]."""

    kiln: int
    start: int
    unload: int
    end: int


class Placed(NamedTuple):
    """All of one piece in the plan; `paint` and `firings` follow its passes."""

    paint: tuple[Labour, ...]
    firings: tuple[FiringKey, ...]
    assembly: Labour | None
    fuse: FuseSlot | None
    coldwork: Labour | None
    day: int
    cost: int


class PlacedFiring:
    """An enamel firing and what lies in it."""

    __slots__ = ("items", "key", "state")

    def __init__(self, key: FiringKey) -> None:
        self.key = key
        self.state = EMPTY
        self.items: list[int] = []


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How a piece is put in.

    Attributes
    ----------
    layers : tuple of int or None
        Order of painting; None is the order of the stack.
    patience : int
        Nights to look ahead for a firing to join before one is opened.
    is_roomy : bool
        Open the dearest free kiln (the roomiest) and not the cheapest.
    singles_first : bool
        Paint layers of one pass before the second passes of the others.
    not_before : int
        Nothing is done before this slot.
    assembled_from : int
        It is not assembled before this slot.
    """

    layers: tuple[int, ...] | None = None
    patience: int = 0
    is_roomy: bool = False
    singles_first: bool = False
    not_before: int = 0
    assembled_from: int = 0


class Kept(NamedTuple):
    """What of a piece should stay where it was, by number of the pass.

    `spots` holds, per firing, how its layers lay; `is_strict` refuses the piece if
    anything of it must move.
    """

    paint: dict[int, Labour]
    firings: dict[int, FiringKey]
    assembly: Labour | None
    fuse: FuseSlot | None
    coldwork: Labour | None
    spots: dict[FiringKey, dict[int, Spot]]
    is_strict: bool = False


PLAIN = Manner()


def painting_order(piece: PieceFacts, manner: Manner) -> list[PassFacts]:
    """Return the passes of a piece in the order in which they are painted.

    Parameters
    ----------
    piece : PieceFacts
        With its passes by layer.
    manner : Manner
        Order of the layers, and whether single passes come before second ones.

    References
    ----------
    Long chains first: the others fill the hours while these are in a kiln.
    """
    numbers: Iterable[int] = manner.layers or range(len(piece.layers))
    layers = [piece.layers[n] for n in numbers]
    rounds = max((len(layer) for layer in layers), default=0)
    singles = [layer[0] for layer in layers if len(layer) == 1]
    order = [layer[0] for layer in layers if len(layer) > 1]
    if manner.singles_first:
        order += singles
    for position in range(1, rounds):
        order += [layer[position] for layer in layers if len(layer) > position]
    return order if manner.singles_first else order + singles
