"""What the stock that pieces took is worth, at what each thing cost when it was taken."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from decimal import Decimal

from django.db.models import Sum

from studio.amounts import convert
from studio.models import (
    Glass,
    Material,
    MoveKind,
    Sheet,
    StockMove,
    StockSheet,
    Studio,
)
from studio.selectors.stock import MM2_PER_M2


def material_costs(
    studio: Studio, pieces: Collection[int] | None = None
) -> dict[int, Decimal]:
    """Return what each piece took, in the studio's currency; none for one without moves.

    A sheet that was cut by the plan is shared among the layers cut from it by their area,
    with what was wasted and without the offcuts that were kept.
    """
    found = StockMove.owned.for_studio(studio).filter(
        taken_back_at=None, piece__isnull=False
    )
    if pieces is not None:
        found = found.filter(piece__in=pieces)
    today = _CostsToday(studio)
    costs: dict[int, Decimal] = defaultdict(Decimal)
    names = ("material_id", "stock_sheet_id", "glass_id", "unit", "unit_cost")
    for piece, *facts in (
        found.exclude(amount=0)
        .order_by()
        .values_list("piece_id", *names)
        .annotate(Sum("amount"))
    ):
        costs[piece] -= today.worth(*facts)
    _add_cut_by_plan(studio, pieces, today, costs)
    return costs


class _CostsToday:
    """Sizes of sheets, and today's averages for what came from an older backup."""

    def __init__(self, studio: Studio) -> None:
        self.per_m2 = dict(
            Glass.owned.for_studio(studio).values_list("pk", "cost_per_m2")
        )
        self.sheets = {
            pk: (glass, Decimal(str(width * height / MM2_PER_M2)))
            for pk, glass, width, height in StockSheet.owned.for_studio(
                studio
            ).values_list("pk", "glass_id", "width_mm", "height_mm")
        }
        self.materials = {
            pk: (unit, cost)
            for pk, unit, cost in Material.owned.for_studio(studio).values_list(
                "pk", "unit", "cost_per_unit"
            )
        }

    def worth(
        self,
        material: int | None,
        sheet: int | None,
        glass: int | None,
        unit: str,
        unit_cost: Decimal | None,
        amount: Decimal,
    ) -> Decimal:
        """Return what an amount cost: at its own cost, else at today's average."""
        if material is not None:
            if unit_cost is not None:
                return amount * unit_cost
            now, cost = self.materials[material]
            return convert(amount, unit, now) * cost
        area = Decimal(1)
        if sheet is not None:
            glass, area = self.sheets[sheet]
        if unit_cost is None:
            unit_cost = self.per_m2[glass or 0]
        return amount * area * unit_cost


def _add_cut_by_plan(
    studio: Studio,
    pieces: Collection[int] | None,
    today: _CostsToday,
    costs: dict[int, Decimal],
) -> None:
    """Add each piece's share of the sheets that were cut as the plan showed."""
    plan = {"cut_from__piece": None, "cut_from__taken_back_at": None}
    cut = Sheet.owned.for_studio(studio).filter(cut_from__isnull=False, **plan)
    own = cut
    if pieces is not None:
        own = cut.filter(layer__piece__in=pieces)
    moves = set(own.order_by().values_list("cut_from", flat=True))
    if not moves:
        return
    shares: dict[int, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    piece = "layer__piece"
    for move, whose, width, height in cut.filter(cut_from__in=moves).values_list(
        "cut_from", piece, f"{piece}__width_mm", f"{piece}__height_mm"
    ):
        shares[move][whose] += width * height
    for move, worth in _worth_of_cuts(studio, moves, today).items():
        whole = sum(shares[move].values())
        for whose, area in shares[move].items():
            if pieces is None or whose in pieces:
                costs[whose] += worth * Decimal(str(area / whole))


def _worth_of_cuts(
    studio: Studio, moves: Iterable[int], today: _CostsToday
) -> dict[int, Decimal]:
    """Return what each cut used up: the sheet, less the offcuts that were kept."""
    worth: dict[int, Decimal] = defaultdict(Decimal)
    of_cut = {f"stockmove {pk}": pk for pk in moves}
    standing = StockMove.owned.for_studio(studio).filter(taken_back_at=None)
    names = ("material", "stock_sheet", "glass", "unit", "unit_cost", "amount")
    for pk, *facts in standing.filter(pk__in=of_cut.values()).values_list("pk", *names):
        worth[pk] -= today.worth(*facts)
    kept = standing.filter(kind=MoveKind.OFFCUT, cause__in=of_cut)
    for cause, *facts in kept.values_list("cause", *names):
        worth[of_cut[cause]] -= today.worth(*facts)
    return worth
