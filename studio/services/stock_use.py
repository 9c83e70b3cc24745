"""What work at the bench and at the kiln takes from stock, and gives back undone.

A layer's glass is taken once, at the first proof that it was cut: marked as cut on the
cutting plan, painted, or counted in a stack.
"""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from studio.amounts import COUNTED, known_unit
from studio.models import (
    Glass,
    Material,
    MaterialKind,
    MoveKind,
    Pass,
    Person,
    Piece,
    PieceEvent,
    Sheet,
    StockSheet,
    UsedPer,
)
from studio.selectors.stock import (
    area_of,
    is_used_with,
    used_by_a_fuse,
    used_by_an_enamel_firing,
)
from studio.services.stock import give_back, in_order, open_list, write_move

ENAMEL_FIRING = "enamel"


def cause_of_pass(pk: int) -> str:
    """Return the words by which movements name the painting they follow from."""
    return f"of_pass {pk}"


def cause_of_burning(pk: int) -> str:
    """Return the words by which movements name the pass that went into a kiln."""
    return f"fired_pass {pk}"


def cause_of_event(pk: int) -> str:
    """Return the words by which movements name the event they follow from."""
    return f"event {pk}"


def take_for_painting(
    *,
    piece: Piece,
    passes: Sequence[Pass],
    materials: Sequence[Material],
    by: Person | None,
    at: datetime,
) -> None:
    """Take what passes were painted with, and the glass of sheets not cut before.

    Several colours of a pass share its area.
    """
    materials = sorted(materials, key=in_order)
    for material in materials:
        open_list(material, at)
    sharing = sum(one.used_per == UsedPer.PASS_AREA for one in materials)
    for of_pass in passes:
        cause = cause_of_pass(of_pass.pk)
        for material in materials:
            amount = _used(material, area_of(piece), max(1, sharing))
            if amount:
                write_move(
                    item=material,
                    kind=MoveKind.TAKEN,
                    amount=-amount,
                    why=f"Painted layer {of_pass.sheet.layer.number}",
                    cause=cause,
                    piece=piece,
                    by=by,
                    at=at,
                )
    uncut = [one for one in passes if one.sheet.cut_from_id is None]
    for of_pass in uncut:
        take_glass(
            piece=piece,
            sheets=[of_pass.sheet],
            cause=cause_of_pass(of_pass.pk),
            by=by,
            at=at,
        )


def _used(material: Material, area_m2: Decimal, sharing: int) -> Decimal:
    if material.used_per == UsedPer.PASS_AREA:
        return material.amount_used * area_m2 / sharing
    is_counted = known_unit(material.unit) in COUNTED
    return Decimal(material.kind == MaterialKind.DECAL and is_counted)


def give_back_painting(
    *, passes: Sequence[Pass], by: Person | None, at: datetime
) -> None:
    """Give back what passes took that were not painted after all."""
    causes = [cause_of_pass(one.pk) for one in passes]
    give_back(studio=passes[0].studio, causes=causes, by=by, at=at)


def take_for_stack(*, event: PieceEvent, by: Person | None, at: datetime) -> None:
    """Take the glass of those sheets of a stack that no other record took."""
    sheets = Sheet.owned.for_studio(event.studio).filter(
        layer__piece=event.piece,
        layer__taken_out_at=None,
        set_aside_at=None,
        cut_from=None,
    )
    take_glass(
        piece=event.piece,
        sheets=list(sheets.select_related("layer__glass").order_by("layer__number")),
        cause=cause_of_event(event.pk),
        by=by,
        at=at,
    )


def take_for_fuse(*, event: PieceEvent, by: Person | None, at: datetime) -> None:
    """Take what a stack in the kiln uses up under it: kiln wash, fibre paper."""
    if event.firing_kind == ENAMEL_FIRING:
        return
    for material in sorted(used_by_a_fuse(event.studio), key=in_order):
        open_list(material, at)
        write_move(
            item=material,
            kind=MoveKind.TAKEN,
            amount=-material.amount_used * area_of(event.piece),
            why=event.firing_kind.capitalize(),
            cause=cause_of_event(event.pk),
            piece=event.piece,
            by=by,
            at=at,
        )


def take_for_enamel_firing(
    *, passes: Sequence[Pass], by: Person | None, at: datetime
) -> None:
    """Take what passes in the kiln use up under their layers: kiln wash, fibre paper."""
    if not passes:
        return
    for material in sorted(used_by_an_enamel_firing(passes[0].studio), key=in_order):
        open_list(material, at)
        for of_pass in passes:
            layer = of_pass.sheet.layer
            if not is_used_with(material, layer.technique):
                continue
            write_move(
                item=material,
                kind=MoveKind.TAKEN,
                amount=-material.amount_used * area_of(layer.piece),
                why=f"Enamel firing of layer {layer.number}",
                cause=cause_of_burning(of_pass.pk),
                piece=layer.piece,
                by=by,
                at=at,
            )


def give_back_enamel_firing(
    *, passes: Sequence[Pass], by: Person | None, at: datetime
) -> None:
    """Give back what passes took whose firing was not started after all."""
    if passes:
        causes = [cause_of_burning(one.pk) for one in passes]
        give_back(studio=passes[0].studio, causes=causes, by=by, at=at)


def give_back_event(*, event: PieceEvent, by: Person | None, at: datetime) -> None:
    """Give back what an event took that did not happen after all."""
    causes = [cause_of_event(event.pk)]
    give_back(studio=event.studio, causes=causes, by=by, at=at)


def take_glass(
    *,
    piece: Piece,
    sheets: Sequence[Sheet],
    cause: str,
    by: Person | None,
    at: datetime,
) -> None:
    """Take layers' glass by its share of a sheet: nobody said which one was cut.

    Where no sheets of that glass are counted, it is taken by its area alone.
    """
    from_rack: dict[int, StockSheet | None] = {}
    for sheet in sheets:
        glass: Glass = sheet.layer.glass
        if glass.pk not in from_rack:
            from_rack[glass.pk] = (
                StockSheet.owned.for_studio(piece.studio)
                .filter(glass=glass, is_offcut=False)
                .order_by("-on_hand", "pk")
                .first()
            )
        stock = from_rack[glass.pk]
        move = write_move(
            item=glass if stock is None else stock,
            kind=MoveKind.TAKEN,
            amount=-area_of(piece) / (1 if stock is None else stock.area_m2),
            why=f"Cut layer {sheet.layer.number}",
            cause=cause,
            piece=piece,
            by=by,
            at=at,
        )
        Sheet.across_studios.filter(pk=sheet.pk).update(cut_from=move)
