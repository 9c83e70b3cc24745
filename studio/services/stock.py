"""Movements of stock: received, taken, counted, corrected, and taken back.

A movement is a row that is only added; what is on hand is kept beside the rows, in the
same transaction. Less than nothing is told, never refused: the bench goes on.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction
from django.db.models import F, Model, Q

from studio.amounts import AMOUNT_PLACES, convert
from studio.errors import Refused
from studio.ledger import TELLS_COST
from studio.models import (
    Glass,
    Material,
    MoveKind,
    Person,
    Piece,
    Sheet,
    StockMove,
    StockSheet,
    Studio,
)
from studio.selectors.stock import (
    COST_PLACES,
    Item,
    field_of,
    glass_balance,
    material_balance,
    moves_of,
    unit_of,
)
from studio.services import history
from studio.services.locks import held
from studio.services.stock_costs import cost_again, cost_now, keep_average
from studio.tenancy import same_studio
from studio.undo import because, checked_reason
from studio.viewer import Viewer

# The column's size; anything near it is a mistyped number.
TOO_MUCH = Decimal(10) ** 8
# A sheet cut by the plan is taken by hand; what work takes names its cause.
BY_HAND = {MoveKind.RECEIPT, MoveKind.COUNT, MoveKind.CORRECTION, MoveKind.TAKEN}


def whole(amount: Decimal) -> Decimal:
    """Return an amount as the ledger keeps it."""
    return amount.quantize(AMOUNT_PLACES, ROUND_HALF_UP)


@transaction.atomic
def receive_material(
    *,
    material: Material,
    amount: Decimal,
    unit_cost: Decimal | None,
    by: Person | None,
    at: datetime,
    why: str = "",
) -> StockMove:
    """Add what was delivered; what it cost, if told, moves the average cost.

    Raises
    ------
    Refused
        When nothing was delivered, or a number is out of range.
    """
    _refuse_odd(amount, unit_cost)
    material = held(Material.owned.for_studio(material.studio)).get(pk=material.pk)
    open_list(material, at)
    move = write_move(
        item=material,
        kind=MoveKind.RECEIPT,
        amount=amount,
        unit_cost=unit_cost,
        why=why,
        by=by,
        at=at,
    )
    keep_average(material)
    _note(move, f"Received {_words(material, amount)} of {material}", by, at)
    return move


@transaction.atomic
def receive_sheets(
    *,
    glass: Glass,
    width_mm: float,
    height_mm: float,
    count: int,
    batch: str,
    cost_per_m2: Decimal | None,
    by: Person | None,
    at: datetime,
    is_offcut: bool = False,
    why: str = "",
) -> StockMove:
    """Add sheets of one size to the rack.

    Raises
    ------
    Refused
        When there is none, a side is not above zero, or a number is out of range.
    """
    _refuse_odd(Decimal(count), cost_per_m2)
    if round(width_mm, 1) <= 0 or round(height_mm, 1) <= 0:
        raise Refused("Width and height must be above zero.")
    held(Glass.owned.for_studio(glass.studio)).get(pk=glass.pk)
    sheet = sheets_of_size(
        glass=glass,
        width_mm=width_mm,
        height_mm=height_mm,
        batch=batch,
        is_offcut=is_offcut,
    )
    move = write_move(
        item=sheet,
        kind=MoveKind.RECEIPT,
        amount=Decimal(count),
        unit_cost=cost_per_m2,
        why=why,
        by=by,
        at=at,
    )
    keep_average(glass)
    size = Viewer.of_studio(glass.studio).size(width_mm, height_mm)
    kind = "offcut" if is_offcut else "sheet"
    many = f"{count} {kind}" + ("" if count == 1 else "s")
    _note(move, f"Received {many} of {glass}, {size}", by, at)
    return move


def sheets_of_size(
    *, glass: Glass, width_mm: float, height_mm: float, batch: str, is_offcut: bool
) -> StockSheet:
    """Return the place on the rack for sheets of a size, made if there is none."""
    found, _ = StockSheet.across_studios.get_or_create(
        studio=glass.studio,
        glass=glass,
        # A tenth of a millimetre: the same sheet in inches and in mm is one place.
        width_mm=round(width_mm, 1),
        height_mm=round(height_mm, 1),
        batch=batch.strip()[:60],
        is_offcut=is_offcut,
    )
    return found


@transaction.atomic
def count_stock(
    *,
    studio: Studio,
    counted: Mapping[Material | StockSheet, Decimal],
    by: Person | None,
    at: datetime,
    why: str = "",
) -> list[StockMove]:
    """Record what was found on the shelves; what agrees with the list is counted too.

    Raises
    ------
    Refused
        When nothing was counted, or less than nothing.
    """
    same_studio(studio, *counted)
    if not counted:
        raise Refused("Count at least one thing.")
    moves: list[StockMove] = []
    for item, amount in sorted(counted.items(), key=lambda one: in_order(one[0])):
        if not 0 <= amount < TOO_MUCH:
            raise Refused(f"{item}: count zero or more of it.")
        if isinstance(item, Material):
            open_list(item, at)
        moves.append(
            write_move(
                item=item,
                kind=MoveKind.COUNT,
                amount=amount,
                why=why,
                # All of one count is taken back with its first row.
                cause=f"stockmove {moves[0].pk}" if moves else "",
                by=by,
                at=at,
            )
        )
    names = ", ".join(str(one.item) for one in moves)
    history.record(studio=studio, by=by, at=at, what=f"Counted {names}")
    return moves


@transaction.atomic
def correct_stock(
    *,
    item: Material | StockSheet,
    amount: Decimal,
    why: str,
    by: Person | None,
    at: datetime,
) -> StockMove:
    """Add to, or take from, what the list says, with the reason: broken, given away.

    Raises
    ------
    Refused
        When nothing is changed or no reason is given.
    """
    if not why.strip():
        raise Refused("Say why: broken, given away, miscounted.")
    if not amount or abs(amount) >= TOO_MUCH:
        raise Refused("Say by how much, such as 2 or -1.")
    if isinstance(item, Material):
        open_list(item, at)
    move = write_move(
        item=item,
        kind=MoveKind.CORRECTION,
        amount=amount,
        why=why.strip()[:200],
        by=by,
        at=at,
    )
    what = f"Corrected {item} by {_words(item, amount)}: {why.strip()}"
    _note(move, what, by, at)
    return move


@transaction.atomic
def take_back_move(
    *, move: StockMove, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back what was recorded by hand: a receipt, a count, a correction.

    Raises
    ------
    Refused
        When it was taken back already, follows from work at the bench, or it is late
        and no reason is given.
    """
    current = held(StockMove.owned.for_studio(move.studio)).get(pk=move.pk)
    if current.taken_back_at is not None:
        raise Refused("That was taken back already.")
    if current.kind not in BY_HAND or current.cause:
        raise Refused("That follows from work at the bench. Take that back instead.")
    given = checked_reason(reason, recorded_at=current.at, now=at)
    with_it = StockMove.owned.for_studio(move.studio).filter(
        cause=f"stockmove {current.pk}", taken_back_at=None
    )
    set_aside([current, *with_it.order_by("pk")], reason=given, by=by, at=at)
    what = f"{current.get_kind_display()} {current.item}: taken back{because(given)}"
    _note(current, what, by, at)


def open_list(material: Material, at: datetime) -> None:
    """Begin a material's list with what its record says, where it has no list yet."""
    if material.on_hand and not moves_of(material).exists():
        StockMove.across_studios.create(
            studio=material.studio,
            material=material,
            kind=MoveKind.COUNT,
            amount=material.on_hand,
            unit=material.unit,
            unit_cost=material.cost_per_unit,
            why="In stock when the ledger began",
            at=at,
        )


def note_form(record: Model, by: Person | None, at: datetime) -> None:
    """Write into the ledger what a form changed of a glass or a material."""
    if isinstance(record, Material):
        note_edited(material=record, by=by, at=at)
    elif isinstance(record, Glass):
        note_price(glass=record, by=by, at=at)


def note_edited(*, material: Material, by: Person | None, at: datetime) -> None:
    """Write into the ledger what a form changed of a material: amount, unit or price.

    Called in the transaction that saved it.
    """
    last = moves_of(material).order_by("-pk").first()
    now = material_balance(material)
    is_recounted = now.on_hand != material.on_hand
    if last is None or last.unit != material.unit or is_recounted:
        StockMove.across_studios.create(
            studio=material.studio,
            material=material,
            kind=MoveKind.COUNT,
            amount=material.on_hand,
            unit=material.unit,
            unit_cost=material.cost_per_unit,
            why="Typed on its page" if last else "When it was added",
            by=by,
            at=at,
        )
    elif now.unit_cost is None or now.unit_cost.quantize(COST_PLACES) != (
        material.cost_per_unit.quantize(COST_PLACES)
    ):
        write_move(
            item=material,
            kind=MoveKind.PRICE,
            amount=Decimal(0),
            unit_cost=material.cost_per_unit,
            why="Typed on its page",
            by=by,
            at=at,
        )


def note_price(*, glass: Glass, by: Person | None, at: datetime) -> None:
    """Write into the ledger that a glass got another price, typed on its page."""
    now = glass_balance(glass).unit_cost
    if now is None or now.quantize(COST_PLACES) != glass.cost_per_m2.quantize(
        COST_PLACES
    ):
        write_move(
            item=glass,
            kind=MoveKind.PRICE,
            amount=Decimal(0),
            unit_cost=glass.cost_per_m2,
            why="Typed on its page",
            by=by,
            at=at,
        )


def in_order(item: Item) -> tuple[str, int]:
    """Return the rank in which rows of stock are changed: nobody waits in a circle."""
    return field_of(item), item.pk


def write_move(
    *,
    item: Item,
    kind: str,
    amount: Decimal,
    by: Person | None,
    at: datetime,
    unit_cost: Decimal | None = None,
    why: str = "",
    cause: str = "",
    piece: Piece | None = None,
) -> StockMove:
    """Add a movement and let what is on hand follow it.

    What tells no cost is worth the average of this moment, and stays so.
    """
    moved = whole(amount)
    if kind not in TELLS_COST:
        unit_cost = cost_now(item)
    move = StockMove.across_studios.create(
        studio=item.studio,
        kind=kind,
        amount=moved,
        unit=unit_of(item),
        unit_cost=unit_cost,
        why=why[:200],
        cause=cause,
        piece=piece,
        by=by,
        at=at,
        **{field_of(item): item},
    )
    if not isinstance(item, Glass):
        now = moved if kind == MoveKind.COUNT else F("on_hand") + moved
        rows = type(item).across_studios.filter(pk=item.pk)
        rows.update(on_hand=now)
    return move


def give_back(
    *, studio: Studio, causes: Iterable[str], by: Person | None, at: datetime
) -> None:
    """Give back what was taken for work that did not happen after all."""
    found = held(StockMove.owned.for_studio(studio)).filter(
        cause__in=list(causes), taken_back_at=None
    )
    set_aside(list(found.order_by("pk")), reason="", by=by, at=at)


def set_aside(
    moves: Iterable[StockMove], *, reason: str, by: Person | None, at: datetime
) -> None:
    """Mark movements as taken back, and let what is on hand follow."""
    moves = list(moves)
    if not moves:
        return
    pks = [one.pk for one in moves]
    StockMove.across_studios.filter(pk__in=pks).update(
        taken_back_at=at, taken_back_by=by, taken_back_reason=reason
    )
    Sheet.across_studios.filter(cut_from__in=pks).update(cut_from=None)
    for move in sorted(moves, key=lambda one: (in_order(one.item), one.pk)):
        item = move.item
        if isinstance(item, Glass):
            continue
        if move.kind == MoveKind.COUNT:
            _add_up(item)
        elif not _is_counted_since(move):
            back = convert(move.amount, move.unit, unit_of(item))
            rows = type(item).across_studios.filter(pk=item.pk)
            rows.update(on_hand=F("on_hand") - whole(back))
    cost_again(moves)


def _add_up(item: Material | StockSheet) -> None:
    """Keep what is on hand as the whole list says."""
    if isinstance(item, Material):
        now = material_balance(item).on_hand
    else:
        now = glass_balance(item.glass).of_items.get(item.pk, Decimal(0))
    type(item).across_studios.filter(pk=item.pk).update(on_hand=whole(now))


def _is_counted_since(move: StockMove) -> bool:
    same = Q(**{field_of(move.item): move.item})
    later = StockMove.owned.for_studio(move.studio).filter(same, pk__gt=move.pk)
    return later.filter(kind=MoveKind.COUNT, taken_back_at=None).exists()


def _refuse_odd(amount: Decimal, unit_cost: Decimal | None) -> None:
    if not 0 < amount < TOO_MUCH:
        raise Refused("Write how much came: more than nothing.")
    if unit_cost is not None and not 0 <= unit_cost < TOO_MUCH:
        raise Refused("A cost is zero or more.")


def _words(item: Material | StockSheet, amount: Decimal) -> str:
    viewer = Viewer.of_studio(item.studio)
    return viewer.amount(amount, unit_of(item))


def _note(move: StockMove, what: str, by: Person | None, at: datetime) -> None:
    history.record(
        studio=move.studio, by=by, at=at, what=what, subject=f"stockmove {move.pk}"
    )
