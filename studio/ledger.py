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


def balance(movements: Iterable[Movement]) -> Balance:
    """Return what movements leave: amounts as they add up, cost as a moving average.

    A receipt moves the average by its share of all that is then on hand; where less
    than nothing was on hand, its own cost is the average.
    """
    there: dict[Hashable, Decimal] = {}
    units: dict[Hashable, Decimal] = {}
    cost: Decimal | None = None
    for one in movements:
        before = there.get(one.item, NOTHING)
        if one.kind is Move.RECEIPT and one.unit_cost is not None:
            on_hand = sum((max(NOTHING, each) for each in units.values()), NOTHING)
            came = one.amount * one.size
            if cost is None or on_hand + came <= 0:
                cost = one.unit_cost
            else:
                cost = (on_hand * cost + came * one.unit_cost) / (on_hand + came)
        elif one.unit_cost is not None and one.kind in {Move.PRICE, Move.COUNT}:
            cost = one.unit_cost
        now = one.amount if one.kind is Move.COUNT else before + one.amount
        there[one.item] = now
        units[one.item] = now * one.size
    return Balance(of_items=there, unit_cost=cost)
