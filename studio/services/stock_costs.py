"""What stock costs: the average of what is on hand, and what was taken at its own moment.

A movement that tells no cost of its own keeps the average of its moment. A later delivery
changes none of them. What is taken back was never there: what moved after it is worth
what the average would have been without it.
"""

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

from studio.amounts import convert
from studio.ledger import TELLS_COST, costs_when_moved
from studio.models import Glass, Material, StockMove, StockSheet, Studio
from studio.selectors.stock import (
    COST_PLACES,
    Item,
    as_movement,
    glass_balance,
    material_balance,
    moves_of_cost,
)


def owner_of_cost(item: Item) -> Material | Glass:
    """Return whose average a movement of a thing is worth: sheets have their glass's."""
    return item.glass if isinstance(item, StockSheet) else item


def cost_now(item: Item) -> Decimal:
    """Return what a unit costs on average, a square metre of glass, as the row says now."""
    owner = owner_of_cost(item)
    column = "cost_per_unit" if isinstance(owner, Material) else "cost_per_m2"
    rows = type(owner).across_studios.filter(pk=owner.pk)
    return Decimal(rows.values_list(column, flat=True).get())


def keep_average(owner: Material | Glass) -> None:
    """Keep what a unit costs on average as the price that quotes are made with."""
    if isinstance(owner, Material):
        cost = material_balance(owner).unit_cost
        column = "cost_per_unit"
    else:
        cost = glass_balance(owner).unit_cost
        column = "cost_per_m2"
    if cost is not None:
        rows = type(owner).across_studios.filter(pk=owner.pk)
        rows.update(**{column: _kept(cost)})


def cost_again(taken_back: Iterable[StockMove]) -> None:
    """Let averages and what moved later be as if these movements had never been."""
    first: dict[Material | Glass, StockMove] = {}
    for move in sorted(taken_back, key=lambda one: one.pk):
        first.setdefault(owner_of_cost(move.item), move)
    telling = {
        owner_of_cost(one.item)
        for one in taken_back
        if one.kind in TELLS_COST and one.unit_cost is not None
    }
    for owner, move in first.items():
        since = moves_of_cost(owner).filter(pk__gt=move.pk)
        if (
            owner in telling
            or since.filter(kind__in=TELLS_COST, unit_cost__isnull=False).exists()
        ):
            keep_average(owner)
            _cost_since(owner, move.pk)


def scale_costs(studio: Studio, rate: Decimal) -> None:
    """Write what moved at an average in another currency; costs that were told are not."""
    rows = StockMove.owned.for_studio(studio).exclude(kind__in=TELLS_COST)
    changed = list(rows.filter(unit_cost__isnull=False).only("unit_cost"))
    for row in changed:
        row.unit_cost = _kept((row.unit_cost or Decimal(0)) * rate)
    StockMove.across_studios.bulk_update(changed, ["unit_cost"], batch_size=200)


def _cost_since(owner: Material | Glass, pk: int) -> None:
    """Cost what moved after a row by the average that stood at its moment."""
    rows = list(moves_of_cost(owner))
    costs = costs_when_moved(as_movement(one, owner) for one in rows)
    changed = []
    for row, cost in zip(rows, costs, strict=True):
        if row.pk < pk or row.kind in TELLS_COST or cost is None:
            continue
        unit = Decimal(1)
        if isinstance(owner, Material):
            unit = convert(Decimal(1), row.unit, owner.unit)
        if row.unit_cost != _kept(cost * unit):
            row.unit_cost = _kept(cost * unit)
            changed.append(row)
    StockMove.across_studios.bulk_update(changed, ["unit_cost"], batch_size=200)


def _kept(cost: Decimal) -> Decimal:
    return cost.quantize(COST_PLACES, ROUND_HALF_UP)
