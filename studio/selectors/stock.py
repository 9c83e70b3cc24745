"""Reads of stock: glasses, materials, what is on the rack, reserved and to be bought."""

from collections.abc import Iterable
from decimal import Decimal
from typing import TypeAlias
from zoneinfo import ZoneInfo

from django.db.models import Count, Q, QuerySet, Sum

from studio.amounts import SQUARE_METRE, convert
from studio.ledger import NOTHING, Balance, Move, Movement, balance
from studio.models import (
    Glass,
    Material,
    MaterialKind,
    MoveKind,
    Pass,
    Piece,
    Reservation,
    Sheet,
    StockMove,
    StockSheet,
    Studio,
    Technique,
    UsedPer,
)
from studio.selectors.pieces import pieces_in_work
from studio.tenancy import StudioQuerySet

Item: TypeAlias = Material | StockSheet | Glass

COST_PLACES = Decimal("0.0001")
MM2_PER_M2 = 1_000_000
A_SHEET = "sheet"
# Of the two, a piece needs what its layers are made with.
MADE_WITH = {
    MaterialKind.ENAMEL: Technique.PAINTED,
    MaterialKind.DECAL: Technique.DECAL,
}
# The kinds of cause of what a pass took: when it was painted, when it went to be burnt on.
CAUSES_OF_PASS = ("of_pass", "fired_pass")


def glasses(studio: Studio) -> StudioQuerySet[Glass]:
    """Return the studio's glasses; those no longer bought come last."""
    return Glass.owned.for_studio(studio).order_by("is_retired", "name", "pk")


def glasses_in_use(studio: Studio) -> StudioQuerySet[Glass]:
    """Return the glasses for new pieces."""
    return glasses(studio).filter(is_retired=False)


def materials(studio: Studio) -> StudioQuerySet[Material]:
    """Return the studio's materials by kind; those no longer bought come last."""
    return Material.owned.for_studio(studio).order_by(
        "is_retired", "kind", "name", "pk"
    )


def paints(studio: Studio) -> StudioQuerySet[Material]:
    """Return what a pass can be painted with: enamels and decals."""
    return materials(studio).filter(
        is_retired=False, kind__in=[MaterialKind.ENAMEL, MaterialKind.DECAL]
    )


def materials_in_quotes(studio: Studio) -> StudioQuerySet[Material]:
    """Return the materials of which a known amount is used."""
    found = materials(studio).filter(is_retired=False, amount_used__gt=0)
    return found.exclude(used_per=UsedPer.NOT_PRICED)


def used_by_a_fuse(studio: Studio) -> StudioQuerySet[Material]:
    """Return what every fuse uses up by the area under it."""
    by_area = [UsedPer.FUSE_AREA, UsedPer.FIRING_AREA]
    return materials_in_quotes(studio).filter(used_per__in=by_area)


def used_by_an_enamel_firing(studio: Studio) -> StudioQuerySet[Material]:
    """Return what every enamel firing uses up by the area under its layers."""
    by_area = [UsedPer.ENAMEL_AREA, UsedPer.FIRING_AREA]
    return materials_in_quotes(studio).filter(used_per__in=by_area)


def is_used_with(material: Material, technique: str) -> bool:
    """Return whether a material goes with layers of this technique: no enamel on decals."""
    return MADE_WITH.get(MaterialKind(material.kind), technique) == technique


def stock_sheets(studio: Studio) -> StudioQuerySet[StockSheet]:
    """Return what is, or was, on the rack: whole sheets first, the largest first."""
    found = StockSheet.owned.for_studio(studio).select_related("glass")
    return found.order_by("glass__name", "is_offcut", "-width_mm", "-height_mm", "pk")


def on_the_rack(studio: Studio) -> StudioQuerySet[StockSheet]:
    """Return what may be counted: whole sheets, and the offcuts that are there."""
    return stock_sheets(studio).exclude(is_offcut=True, on_hand=0)


def moves(studio: Studio) -> StudioQuerySet[StockMove]:
    """Return the studio's movements, newest first."""
    found = StockMove.owned.for_studio(studio).select_related(
        "studio", "material", "glass", "stock_sheet__glass", "piece", "by"
    )
    return found.order_by("-pk")


def by_piece_and_day(
    rows: Iterable[StockMove], zone: ZoneInfo
) -> list[list[StockMove]]:
    """Put together what work on one piece took of one thing in a day, as one line."""
    together: dict[tuple[object, ...], list[StockMove]] = {}
    for one in rows:
        key: tuple[object, ...] = (one.pk,)
        if one.cause and one.piece_id is not None:
            day = one.at.astimezone(zone).date()
            is_back = one.taken_back_at is not None
            key = (
                one.piece_id,
                day,
                field_of(one.item),
                one.item.pk,
                one.unit,
                is_back,
            )
        together.setdefault(key, []).append(one)
    return list(together.values())


def moves_of(item: Item) -> QuerySet[StockMove]:
    """Return the standing movements of one thing, oldest first."""
    rows = StockMove.owned.for_studio(item.studio).filter(taken_back_at=None)
    return rows.filter(Q(**{field_of(item): item})).order_by("pk")


def field_of(item: Item) -> str:
    """Return which field of a movement names such a thing."""
    if isinstance(item, Material):
        return "material"
    return "stock_sheet" if isinstance(item, StockSheet) else "glass"


def unit_of(item: Item) -> str:
    """Return the unit in which a thing is counted."""
    if isinstance(item, Material):
        return str(item.unit)
    return A_SHEET if isinstance(item, StockSheet) else SQUARE_METRE


def area_of(piece: Piece) -> Decimal:
    """Return the area of one of a piece's layers [m²]."""
    return Decimal(str(round(piece.width_mm * piece.height_mm / MM2_PER_M2, 6)))


def moves_of_cost(owner: Material | Glass) -> QuerySet[StockMove]:
    """Return the standing movements that share an average cost, oldest first."""
    if isinstance(owner, Material):
        return moves_of(owner)
    rows = StockMove.owned.for_studio(owner.studio).filter(taken_back_at=None)
    of_it = rows.filter(Q(glass=owner) | Q(stock_sheet__glass=owner))
    return of_it.select_related("stock_sheet").order_by("pk")


def as_movement(one: StockMove, owner: Material | Glass) -> Movement:
    """Return a row as the ledger counts it, in the unit that its material has now."""
    if isinstance(owner, Glass):
        return Movement(
            kind=Move(one.kind),
            amount=one.amount,
            unit_cost=one.unit_cost,
            item=one.stock_sheet_id,
            size=one.stock_sheet.area_m2 if one.stock_sheet else Decimal(1),
        )
    return Movement(
        kind=Move(one.kind),
        amount=convert(one.amount, one.unit, owner.unit),
        unit_cost=None
        if one.unit_cost is None
        else one.unit_cost / convert(Decimal(1), one.unit, owner.unit),
    )


def material_balance(material: Material) -> Balance:
    """Return what a material's movements leave, in the unit it is counted in now."""
    return balance(as_movement(one, material) for one in moves_of_cost(material))


def glass_balance(glass: Glass) -> Balance:
    """Return what is on the rack of each size, by its key, and a square metre's cost."""
    return balance(as_movement(one, glass) for one in moves_of_cost(glass))


def reserved_materials(studio: Studio) -> dict[int, Decimal]:
    """Return what open pieces still need of each material, by its key, in its unit."""
    rows = Reservation.owned.for_studio(studio).filter(
        material__isnull=False, piece__in=pieces_in_work(studio).values("pk")
    )
    used = StockMove.owned.for_studio(studio).filter(
        kind=MoveKind.TAKEN,
        taken_back_at=None,
        material__isnull=False,
        piece__in=rows.values("piece"),
    )
    # What went into a sheet that is made again is needed once more.
    lost = Pass.owned.for_studio(studio).filter(
        sheet__set_aside_at__isnull=False,
        sheet__layer__piece__in=rows.values("piece"),
        painted_at__isnull=False,
    )
    used = used.exclude(
        cause__in=[
            f"{word} {pk}"
            for pk in lost.values_list("pk", flat=True)
            for word in CAUSES_OF_PASS
        ]
    )
    summed = used.order_by().values("piece", "material", "unit", "material__unit")
    taken: dict[tuple[int, int], Decimal] = {}
    for one in summed.annotate(sum=Sum("amount")):
        key = (one["piece"], one["material"])
        amount = convert(-one["sum"], one["unit"], one["material__unit"])
        taken[key] = taken.get(key, NOTHING) + amount
    still: dict[int, Decimal] = {}
    for row in rows.values("piece", "material", "amount", "unit", "material__unit"):
        pk = row["material"]
        left = convert(row["amount"], row["unit"], row["material__unit"])
        left -= taken.get((row["piece"], pk), NOTHING)
        if left > 0:
            still[pk] = still.get(pk, NOTHING) + left
    return still


def reserved_glass(studio: Studio) -> dict[int, Decimal]:
    """Return the area [m²] that open pieces still need of each glass, by its key."""
    rows = Reservation.owned.for_studio(studio).filter(
        glass__isnull=False, piece__in=pieces_in_work(studio).values("pk")
    )
    done = Sheet.owned.for_studio(studio).filter(
        cut_from__isnull=False,
        set_aside_at=None,
        layer__piece__in=rows.values("piece"),
    )
    counted = done.order_by().values("layer__piece", "layer__glass")
    cut = {
        (one["layer__piece"], one["layer__glass"]): one["count"]
        for one in counted.annotate(count=Count("pk"))
    }
    still: dict[int, Decimal] = {}
    for row in rows.select_related("piece"):
        pk = row.glass_id or 0
        left = row.amount - cut.get((row.piece_id, pk), 0) * area_of(row.piece)
        if left > 0:
            still[pk] = still.get(pk, NOTHING) + left
    return still


def areas_on_hand(sheets: Iterable[StockSheet]) -> dict[int, Decimal]:
    """Return the area [m²] on the rack of each glass, by its key."""
    areas: dict[int, Decimal] = {}
    for one in sheets:
        there = areas.get(one.glass_id, Decimal(0))
        areas[one.glass_id] = there + one.on_hand * one.area_m2
    return areas
