"""What the stock that pieces took is worth, at what each thing costs on average now."""

from collections import defaultdict
from collections.abc import Collection
from decimal import Decimal

from django.db.models import Q, Sum

from studio.amounts import convert
from studio.models import Glass, Material, StockMove, StockSheet, Studio


def material_costs(
    studio: Studio, pieces: Collection[int] | None = None
) -> dict[int, Decimal]:
    """Return what each piece took, in the studio's currency; none for one without moves.

    Sheets and offcuts count by their area, materials by the unit they are counted in
    today.
    """
    found = StockMove.owned.for_studio(studio).filter(
        taken_back_at=None, piece__isnull=False
    )
    if pieces is not None:
        found = found.filter(piece__in=pieces)
    per_m2 = dict(Glass.owned.for_studio(studio).values_list("pk", "cost_per_m2"))
    sheets = {
        pk: per_m2[glass] * Decimal(str(width * height / 1e6))
        for pk, glass, width, height in StockSheet.owned.for_studio(studio).values_list(
            "pk", "glass_id", "width_mm", "height_mm"
        )
    }
    materials = {
        pk: (unit, cost)
        for pk, unit, cost in Material.owned.for_studio(studio).values_list(
            "pk", "unit", "cost_per_unit"
        )
    }
    costs: dict[int, Decimal] = defaultdict(Decimal)
    names = ("piece_id", "material_id", "stock_sheet_id", "glass_id", "unit")
    for piece, material, sheet, glass, unit, amount in (
        found.filter(~Q(amount=0))
        .order_by()
        .values_list(*names)
        .annotate(Sum("amount"))
    ):
        if material is not None:
            now, cost = materials[material]
            costs[piece] -= convert(amount, unit, now) * cost
        else:
            costs[piece] -= amount * (per_m2[glass] if sheet is None else sheets[sheet])
    return costs
