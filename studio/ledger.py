"""What a list of movements leaves on hand, and what a unit of it costs on average.

Pure decimals. Movements come in the order in which they were recorded. A count says how
much is there, whatever was recorded before it; less than nothing is told, never refused.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

NOTHING = Decimal(0)


class Move(StrEnum):
    """What a movement of stock is."""

    RECEIPT = "receipt"
    TAKEN = "taken"
    OFFCUT = "offcut"
    COUNT = "count"
    CORRECTION = "correction"
    PRICE = "price"


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """One movement.

    Attributes
    ----------
    amount : Decimal
        What came (above zero) or went (below zero); for a count, what was counted.
    unit_cost : Decimal or None
        Of a receipt, what one unit cost, none for the average; of a price and of the
        count that opens a list, what one unit costs from then on.
    item : Hashable
        Which of several sizes it is of, and `size` how many units one of it is.
    """

    kind: Move
    amount: Decimal
    unit_cost: Decimal | None = None
    item: Hashable = None
    size: Decimal = Decimal(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """What is on hand of each item, and what a unit costs on average, if it is known."""

    of_items: dict[Hashable, Decimal]
    unit_cost: Decimal | None

    @property
    def on_hand(self) -> Decimal:
        """Return what is on hand of the only item."""
        return sum(self.of_items.values(), NOTHING)


# These may tell what a unit costs; all else moves at the average of that moment.
TELLS_COST = frozenset({Move.RECEIPT, Move.COUNT, Move.PRICE})


class _Running:
    """What is there of each item, in pieces and in units, and what a unit costs."""

    def __init__(self) -> None:
        self.there: dict[Hashable, Decimal] = {}
        self.units: dict[Hashable, Decimal] = {}
        self.cost: Decimal | None = None

    def add(self, one: Movement) -> None:
        before = self.there.get(one.item, NOTHING)
        if one.unit_cost is not None and one.kind in TELLS_COST:
            self.cost = self._cost_after(one, one.unit_cost)
        now = one.amount if one.kind is Move.COUNT else before + one.amount
        self.there[one.item] = now
        self.units[one.item] = now * one.size

    def _cost_after(self, one: Movement, told: Decimal) -> Decimal:
        if one.kind is not Move.RECEIPT or self.cost is None:
            return told
        on_hand = sum((max(NOTHING, each) for each in self.units.values()), NOTHING)
        came = one.amount * one.size
        if on_hand + came <= 0:
            return told
        return (on_hand * self.cost + came * told) / (on_hand + came)


def balance(movements: Iterable[Movement]) -> Balance:
    """Return what movements leave: amounts as they add up, cost as a moving average.

    A receipt moves the average by its share of all that is then on hand; where less
    than nothing was on hand, its own cost is the average.
    """
    running = _Running()
    for one in movements:
        running.add(one)
    return Balance(of_items=running.there, unit_cost=running.cost)


def costs_when_moved(movements: Iterable[Movement]) -> list[Decimal | None]:
    """Return what a unit cost on average when each was recorded, before it counted.

    None where nothing had said so yet. What came later changes none of them; as long as
    no more is taken than is there, what came less what went is worth what is left.
    """
    running, costs = _Running(), []
    for one in movements:
        costs.append(running.cost)
        running.add(one)
    return costs
