"""What is done to a layer: painted, fired, judged, made again."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.errors import Refused
from studio.models import Glass, Layer, Material, Outcome, Pass, Person, Piece, Sheet
from studio.selectors.glass_checks import mixed_problems
from studio.services import history
from studio.services.before_work import refuse_hindered
from studio.services.locks import hold_piece, lock_piece
from studio.services.sheets import cut_sheet
from studio.services.stock_use import give_back_painting, take_for_painting
from studio.services.task_times import minutes_for_passes
from studio.stages import WorkKind
from studio.tenancy import same_studio
from studio.undo import because, checked_reason
from studio.viewer import Viewer


@transaction.atomic
def record_painted(
    *,
    passes: Sequence[Pass],
    by: Person | None,
    at: datetime,
    minutes: int | None = None,
    materials: Sequence[Material] = (),
    note: str = "",
) -> None:
    """Record passes of one piece as painted. `minutes` is for each of them.

    Without, they share what the timer has of this work.

    Raises
    ------
    Refused
        When a pass is not the next one of its layer, or the piece is lost; nothing is
        recorded then.
    """
    if not passes:
        raise Refused("Choose at least one layer that was painted.")
    piece = passes[0].sheet.layer.piece
    same_studio(piece.studio, *materials, *passes)
    view = lock_piece(piece)
    if view.is_closed:
        raise Refused(
            f"{piece.title} is {view.stage_words.lower()}: nothing is painted any more."
        )
    refuse_hindered(WorkKind.PAINT, piece, by=by)
    allowed = {v.pass_to_paint.pk for v in view.layers if v.pass_to_paint is not None}
    for of_pass in passes:
        if of_pass.pk not in allowed:
            raise Refused(
                f"{of_pass} of {of_pass.sheet.layer.piece.title} is not waiting to be "
                "painted: it is painted already, or an earlier pass must be fired first."
            )
    each = minutes_for_passes(passes=passes, minutes=minutes, by=by, at=at)
    for of_pass in passes:
        Pass.across_studios.filter(pk=of_pass.pk).update(
            painted_at=at, painted_by=by, minutes=each[of_pass.pk], note=note
        )
        of_pass.materials.set(materials)
    take_for_painting(piece=piece, passes=passes, materials=materials, by=by, at=at)
    names = ", ".join(f"{p.sheet.layer.number} pass {p.number}" for p in passes)
    history.record(
        studio=piece.studio, by=by, at=at, what=f"Painted layer {names}", piece=piece
    )


@transaction.atomic
def take_back_painting(
    *, of_pass: Pass, reason: str = "", by: Person | None, at: datetime
) -> None:
    """Undo a pass that was recorded as painted by mistake; the history keeps what it said.

    Raises
    ------
    Refused
        When the pass is not painted, its sheet was set aside, it lies in a load, or it
        is late and no reason is given.
    """
    hold_piece(of_pass.sheet.layer.piece)
    current = Pass.across_studios.select_related("sheet").get(pk=of_pass.pk)
    if current.painted_at is None or current.outcome or current.sheet.set_aside_at:
        raise Refused(f"{of_pass} is not a painted pass that waits for the kiln.")
    # The loads are a higher app's rows; Django's reverse name saves the import.
    if current.load_items.filter(firing__cancelled_at__isnull=True).exists():
        raise Refused(f"{of_pass} lies in a load. Take it out of the firing first.")
    given = checked_reason(reason, recorded_at=current.painted_at, now=at)
    was = [f"{current.minutes} min"] if current.minutes is not None else []
    was += [f"“{current.note}”"] if current.note else []
    words = f" ({', '.join(was)})" if was else ""
    current.painted_at = current.painted_by = current.minutes = None
    current.note = ""
    current.save()
    current.materials.clear()
    give_back_painting(passes=[current], by=by, at=at)
    piece = of_pass.sheet.layer.piece
    history.record(
        studio=piece.studio,
        by=by,
        at=at,
        what=f"{of_pass} is not painted after all{words}{because(given)}",
        piece=piece,
    )


@transaction.atomic
def take_back_all(*, passes: Sequence[Pass], by: Person | None, at: datetime) -> None:
    """Undo several passes recorded as painted a moment ago, or none of them.

    Raises
    ------
    Refused
        When one of them cannot be taken back.
    """
    for of_pass in passes:
        take_back_painting(of_pass=of_pass, by=by, at=at)


@transaction.atomic
def record_outcome(
    *,
    of_pass: Pass,
    outcome: str,
    by: Person | None,
    at: datetime,
    note: str = "",
) -> None:
    """Record how an enamel firing left a pass.

    "Fire again" adds a repeat right after it. "Cracked" sets the sheet aside, so that
    the layer waits to be made again. The old rows stay.

    Raises
    ------
    Refused
        When the pass is not painted or has an outcome already.
    """
    hold_piece(of_pass.sheet.layer.piece)
    current = Pass.across_studios.get(pk=of_pass.pk)
    if current.painted_at is None:
        raise Refused(f"{of_pass} was not painted, so no firing can have burnt it on.")
    if current.outcome:
        raise Refused(
            f"{of_pass} has its outcome already: {current.get_outcome_display()}."
        )
    current.outcome = Outcome(outcome)
    current.outcome_note = note
    current.outcome_by = by
    current.fired_at = at
    current.save()
    if current.outcome == Outcome.REDO:
        _add_repeat(current)
    elif current.outcome == Outcome.CRACKED:
        Sheet.across_studios.filter(pk=current.sheet_id).update(
            set_aside_at=at, set_aside_reason=f"Cracked in pass {current.number}"
        )
    piece = of_pass.sheet.layer.piece
    history.record(
        studio=piece.studio,
        by=by,
        at=at,
        what=f"{of_pass}: {current.get_outcome_display().lower()}",
        piece=piece,
    )


def _add_repeat(of_pass: Pass) -> None:
    later = Pass.across_studios.filter(
        sheet_id=of_pass.sheet_id, number__gt=of_pass.number
    ).order_by("-number")
    # One by one from the end: a number is unique on its sheet at all times.
    for one in later:
        Pass.across_studios.filter(pk=one.pk).update(number=one.number + 1)
    Pass.across_studios.create(
        studio_id=of_pass.studio_id,
        sheet_id=of_pass.sheet_id,
        number=of_pass.number + 1,
        is_repeat=True,
    )


@transaction.atomic
def make_again(
    *,
    layer: Layer,
    reason: str,
    by: Person | None,
    at: datetime,
    shown_sheet: int | None = None,
) -> Sheet:
    """Cut a new sheet for a layer; the old one is set aside with its history.

    With the sheet that the form was shown with (0: none), pressing twice makes one.

    Raises
    ------
    Refused
        When the piece is stacked or further, or the sheet lies in a load.
    """
    piece: Piece = layer.piece
    view = lock_piece(piece)
    if not reason.strip():
        raise Refused("Say why the layer is made again.")
    if view.events or view.is_closed:
        raise Refused(
            f"{piece.title} is past painting ({view.stage_words.lower()}); its layers "
            "can no longer be exchanged."
        )
    own = next(v for v in view.layers if v.layer.pk == layer.pk)
    if own.sheet is not None:
        if shown_sheet is not None and own.sheet.pk != shown_sheet:
            return own.sheet
        in_load = [
            p
            for p in own.passes
            if not p.outcome
            and p.load_items.filter(firing__cancelled_at__isnull=True).exists()
        ]
        if in_load:
            raise Refused(f"{in_load[0]} lies in a load. Finish that firing first.")
        Sheet.across_studios.filter(pk=own.sheet.pk).update(
            set_aside_at=at, set_aside_reason=reason.strip()[:200]
        )
    last = Sheet.across_studios.filter(layer=layer).order_by("-attempt").first()
    attempt = 1 if last is None else last.attempt + 1
    sheet = cut_sheet(layer=layer, attempt=attempt, at=at)
    history.record(
        studio=piece.studio,
        by=by,
        at=at,
        what=f"{layer} is made again (sheet {attempt}): {reason.strip()}",
        piece=piece,
    )
    return sheet


@transaction.atomic
def change_layer(
    *,
    layer: Layer,
    title: str,
    by: Person | None,
    at: datetime,
    glass: Glass | None = None,
) -> None:
    """Give a layer another title, or another glass while it is unpainted.

    Raises
    ------
    Refused
        When the glass does not go with that of the other layers, the layer was painted
        already, or the piece is stacked.
    """
    before = str(layer)
    if glass is not None and glass.pk != layer.glass_id:
        _change_glass(layer, glass, by=by, at=at)
    Layer.across_studios.filter(pk=layer.pk).update(title=title)
    layer.title = title
    if str(layer) != before:
        history.record(
            studio=layer.studio,
            by=by,
            at=at,
            what=f"Renamed {before} to {layer}",
            piece=layer.piece,
        )


def _change_glass(
    layer: Layer, glass: Glass, *, by: Person | None, at: datetime
) -> None:
    same_studio(layer.studio, glass)
    view = lock_piece(layer.piece)
    own = next(v for v in view.layers if v.layer.pk == layer.pk)
    if not view.may_change_glass(own):
        raise Refused(
            f"{layer} was painted or stacked already, and stays of {layer.glass}. Make "
            "the layer again if it must be of another glass."
        )
    problems = mixed_problems(
        [glass if v.layer.pk == layer.pk else v.layer.glass for v in view.layers],
        Viewer.of_studio(layer.studio),
    )
    if problems:
        raise Refused(" ".join(problems))
    Layer.across_studios.filter(pk=layer.pk).update(glass=glass)
    history.record(
        studio=layer.studio,
        by=by,
        at=at,
        what=f"Changed the glass of {layer} from {layer.glass} to {glass}",
        piece=layer.piece,
    )
    layer.glass = glass
