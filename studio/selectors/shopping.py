"""The shopping list: what is low, or reserved and not there, and how much to buy."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal

from studio.amounts import SQUARE_METRE, convert, in_words
from studio.selectors.cutting import board_of, cutting_facts
from studio.selectors.shelves import rounded
from studio.selectors.stock import (
    glasses_in_use,
    materials,
    reserved_glass,
    reserved_materials,
)
from studio.viewer import Viewer, count_words

WHOLE, TENTH = Decimal(1), Decimal("0.1")


@dataclass(frozen=True, slots=True, kw_only=True)
class ToBuy:
    """One line of the list; `cost` is what it would be at the average cost."""

    name: str
    amount: str
    why: str
    cost: Decimal
    is_urgent: bool
    material_id: int | None = None
    glass_id: int | None = None


def shopping_list(viewer: Viewer) -> list[ToBuy]:
    """Return what to buy, what accepted work waits for first."""
    found = [*_glass(viewer), *_materials(viewer)]
    return sorted(found, key=lambda one: not one.is_urgent)


def _glass(viewer: Viewer) -> Iterator[ToBuy]:
    reserved = reserved_glass(viewer.studio)
    facts = cutting_facts(viewer.studio)
    for glass in glasses_in_use(viewer.studio):
        board = board_of(glass, facts)
        for stock, count in Counter(one.stock for one in board.to_buy).items():
            size = viewer.size(stock.width_mm, stock.height_mm)
            yield ToBuy(
                name=str(glass),
                amount=f"{count_words(count, 'sheet')}, {size}",
                why="to cut the layers that are waiting",
                cost=count * stock.area_m2 * glass.cost_per_m2,
                is_urgent=True,
                glass_id=glass.pk,
            )
        if not board.has_stock and glass.pk in reserved:
            area = reserved[glass.pk]
            yield ToBuy(
                name=str(glass),
                amount=rounded(area, SQUARE_METRE, viewer),
                why="for accepted work; no sheets are counted yet",
                cost=area * glass.cost_per_m2,
                is_urgent=False,
                glass_id=glass.pk,
            )


def _materials(viewer: Viewer) -> Iterator[ToBuy]:
    reserved = reserved_materials(viewer.studio)
    for one in materials(viewer.studio).filter(is_retired=False):
        needed, low_at = reserved.get(one.pk, Decimal(0)), one.low_at or Decimal(0)
        short = needed + low_at - one.on_hand
        if short <= 0:
            continue
        mine = viewer.unit(one.unit)
        amount = convert(short, one.unit, mine)
        amount = amount.quantize(TENTH if amount < 10 else WHOLE, ROUND_UP)
        reasons = [f"{rounded(one.on_hand, one.unit, viewer)} there"]
        if needed:
            reasons.append(f"{rounded(needed, one.unit, viewer)} reserved")
        if low_at:
            reasons.append(f"low at {rounded(low_at, one.unit, viewer)}")
        yield ToBuy(
            name=one.name,
            amount=in_words(amount, mine),
            why=", ".join(reasons),
            cost=short * one.cost_per_unit,
            is_urgent=one.on_hand < needed,
            material_id=one.pk,
        )
