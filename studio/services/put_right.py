"""Takes back what was recorded of a piece or a layer by mistake.

What followed from it goes with it; what others built on it since stays in the way, and
the refusal says what to take back first.
"""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from studio.errors import Refused
from studio.models import (
    Layer,
    Outcome,
    Pass,
    Person,
    Piece,
    PieceEvent,
    PieceEventKind,
    Sheet,
)
from studio.services import history
from studio.services.locks import hold_piece, lock_piece
from studio.services.stock_use import give_back_event
from studio.services.stopping import refuse_remade
from studio.undo import because, checked_reason

# What people record of a piece; the others follow from a firing.
RECORDED = {
    PieceEventKind.STACK_CHECKED: "The stack is not checked",
    PieceEventKind.FINISHED: "It is not finished",
    PieceEventKind.LOST: "It is not lost",
}


@transaction.atomic
def take_back_event(
    *, event: PieceEvent, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back that a stack was checked, or a piece finished or lost.

    Raises
    ------
    Refused
        When it was taken back already, something was recorded since, a kiln is booked
        for the stack, the piece is made again, or it is late and no reason is given.
    """
    piece = event.piece
    view = lock_piece(piece)
    if event.kind not in RECORDED:
        raise Refused("That follows from a firing. Put it right on the firing's page.")
    given = checked_reason(reason, recorded_at=event.at, now=at)
    if event.pk not in {one.pk for one in view.events}:
        raise Refused("That was taken back already.")
    if view.events[-1].pk != event.pk:
        last = view.events[-1].get_kind_display().lower()
        raise Refused(f"{piece.title} is {last} since. Take that back first.")
    if event.kind == PieceEventKind.LOST:
        refuse_remade(piece)
    # The loads are a higher app's rows; Django's reverse name saves the import.
    waiting = piece.load_items.filter(
        firing__cancelled_at__isnull=True, firing__finished_at__isnull=True
    )
    if event.kind == PieceEventKind.STACK_CHECKED and waiting.exists():
        raise Refused(f"A kiln is booked for {piece.title}. Cancel that firing first.")
    set_aside_event(event=event, reason=given, by=by, at=at)
    history.record(
        studio=piece.studio,
        by=by,
        at=at,
        what=f"{RECORDED[PieceEventKind(event.kind)]} after all{because(given)}",
        piece=piece,
    )


def set_aside_event(
    *, event: PieceEvent, reason: str, by: Person | None, at: datetime
) -> None:
    """Mark an event as taken back; the row stays. Called with the piece held."""
    PieceEvent.across_studios.filter(pk=event.pk).update(
        taken_back_at=at, taken_back_by=by, taken_back_reason=reason
    )
    give_back_event(event=event, by=by, at=at)


@transaction.atomic
def take_back_again(
    *, layer: Layer, reason: str, by: Person | None, at: datetime
) -> None:
    """Take back that a layer is made again: its new sheet goes, the one before returns.

    A sheet that cracked in a firing stays set aside.

    Raises
    ------
    Refused
        When the layer has no new sheet, or that is painted already, or it is late and
        no reason is given.
    """
    view = lock_piece(layer.piece)
    own = next((one for one in view.layers if one.layer.pk == layer.pk), None)
    sheet = None if own is None else own.sheet
    if own is None or sheet is None or sheet.attempt == 1:
        raise Refused(f"{layer} is on its first sheet.")
    given = checked_reason(reason, recorded_at=sheet.made_at, now=at)
    if view.events:
        raise Refused(
            f"{layer.piece.title} is {view.stage_words.lower()}. Take that back first."
        )
    if any(one.painted_at for one in own.passes):
        raise Refused(
            f"The new sheet of {layer} is painted already. Take that back first."
        )
    before = next(s for s in own.earlier_sheets if s.attempt == sheet.attempt - 1)
    _leave_in_words(own.passes)
    sheet.delete()
    if not _has_cracked(before):
        Sheet.across_studios.filter(pk=before.pk).update(
            set_aside_at=None, set_aside_reason=""
        )
    history.record(
        studio=layer.studio,
        by=by,
        at=at,
        what=f"{layer} is not made again after all{because(given)}",
        piece=layer.piece,
    )


@transaction.atomic
def erase_outcome(*, of_pass: Pass) -> Pass:
    """Take away how a firing left a pass, with the repeat or the loss that followed.

    The caller writes the history.

    Raises
    ------
    Refused
        When a later pass of the sheet is painted, or a new sheet was cut.
    """
    hold_piece(of_pass.sheet.layer.piece)
    current = Pass.across_studios.select_related("sheet__layer__piece").get(
        pk=of_pass.pk
    )
    sheet = current.sheet
    newer = Sheet.across_studios.filter(
        layer_id=sheet.layer_id, attempt__gt=sheet.attempt
    )
    if newer.exists():
        raise Refused(
            f"{sheet.layer} was started on a new sheet since. Take that back first."
        )
    later = Pass.across_studios.filter(
        sheet_id=sheet.pk, number__gt=current.number
    ).order_by("number")
    painted = later.filter(painted_at__isnull=False).first()
    if painted is not None:
        raise Refused(f"{painted} is painted since. Take that back first.")
    if current.outcome == Outcome.REDO:
        repeat, *rest = later
        _leave_in_words([repeat])
        repeat.delete()
        for one in rest:
            Pass.across_studios.filter(pk=one.pk).update(number=one.number - 1)
    elif current.outcome == Outcome.CRACKED:
        Sheet.across_studios.filter(pk=sheet.pk).update(
            set_aside_at=None, set_aside_reason=""
        )
    current.outcome = current.outcome_note = ""
    current.outcome_by = current.fired_at = None
    current.save(update_fields=["outcome", "outcome_note", "outcome_by", "fired_at"])
    return current


def last_event(piece: Piece, kind: str) -> PieceEvent:
    """Hold a piece and return its last event, which must be of a kind.

    Raises
    ------
    Refused
        When something else was recorded since.
    """
    view = lock_piece(piece)
    if not view.events or view.events[-1].kind != kind:
        raise Refused(
            f"{piece.title} is {view.stage_words.lower()} since. Take that back first."
        )
    return view.events[-1]


def _leave_in_words(passes: Iterable[Pass]) -> None:
    """Let passes go out of cancelled loads, which still say in words what they had."""
    for one in passes:
        words = f"{one} of {one.sheet.layer.piece.title}"
        one.load_items.filter(firing__cancelled_at__isnull=False).update(
            of_pass=None, description=words[:160]
        )


def _has_cracked(sheet: Sheet) -> bool:
    return Pass.across_studios.filter(sheet=sheet, outcome=Outcome.CRACKED).exists()
