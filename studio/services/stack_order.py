"""Changes which layers a stack has, and their order, until the stack is checked."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import F

from studio.errors import Refused
from studio.models import Layer, Pass, Person, Piece, Technique
from studio.selectors.pieces import LayerView, PieceView, taken_out_layers
from studio.services import history
from studio.services.locks import lock_piece
from studio.services.pieces import LayerPlan, refuse_mixed
from studio.services.sheets import cut_sheet
from studio.stages import MOST_PASSES
from studio.tenancy import same_studio

# Above any number of a stack: while layers change places, no two share a number.
ASIDE = 1000


@transaction.atomic
def add_layer(
    *, piece: Piece, place: int, plan: LayerPlan, by: Person | None, at: datetime
) -> Layer:
    """Add a layer with its first sheet at a place counted from the back.

    Raises
    ------
    Refused
        When the stack is checked already, there is no such place, or its glass does not
        go with that of the others.
    """
    same_studio(piece.studio, plan.glass)
    view = _open_stack(piece)
    _refuse_place(place, len(view.layers) + 1)
    refuse_mixed([plan.glass, *(one.layer.glass for one in view.layers)])
    layer = Layer.across_studios.create(
        studio=piece.studio,
        piece=piece,
        number=len(view.layers) + 1,
        technique=plan.technique,
        glass=plan.glass,
        planned_passes=0 if plan.technique == Technique.CLEAR else plan.passes,
        title=plan.title,
    )
    cut_sheet(layer=layer, attempt=1, at=at)
    _put(layer, place, _layers(view))
    _note(layer, f"Added layer {layer.number}", by, at)
    return layer


@transaction.atomic
def take_out_layer(*, layer: Layer, by: Person | None, at: datetime) -> None:
    """Take a layer out of the stack; its sheets and passes stay on record.

    Raises
    ------
    Refused
        When the stack is checked already, it is the only layer, it was taken out before,
        or its sheet lies in a load.
    """
    view = _open_stack(layer.piece)
    own = _own(view, layer)
    if len(view.layers) == 1:
        raise Refused("A piece needs at least one layer. Add another one first.")
    _refuse_in_load(own)
    Layer.across_studios.filter(pk=layer.pk).update(taken_out_at=at)
    layer.taken_out_at = at
    _number([one for one in _layers(view) if one.pk != layer.pk])
    _note(layer, f"Took out {layer}", by, at)


@transaction.atomic
def put_back_layer(*, layer: Layer, by: Person | None, at: datetime) -> Layer:
    """Put a layer that was taken out back at its place.

    Raises
    ------
    Refused
        When the stack is checked already, the layer is in it, or its glass does not go
        with that of the others.
    """
    view = _open_stack(layer.piece)
    found: Layer | None = taken_out_layers(layer.piece).filter(pk=layer.pk).first()
    if found is None:
        raise Refused(f"{layer} is in the stack already.")
    refuse_mixed([found.glass, *(one.layer.glass for one in view.layers)])
    place = min(found.number, len(view.layers) + 1)
    Layer.across_studios.filter(pk=found.pk).update(
        number=len(view.layers) + 1, taken_out_at=None
    )
    found.taken_out_at = None
    _put(found, place, _layers(view))
    _note(found, f"Put {found} back", by, at)
    return found


@transaction.atomic
def move_layer(*, layer: Layer, place: int, by: Person | None, at: datetime) -> Layer:
    """Move a layer to another place, counted from the back.

    Raises
    ------
    Refused
        When the stack is checked already, or there is no such place.
    """
    view = _open_stack(layer.piece)
    found = _own(view, layer).layer
    _refuse_place(place, len(view.layers))
    before = str(found)
    if place == found.number:
        return found
    _put(found, place, [one for one in _layers(view) if one.pk != found.pk])
    _note(found, f"Moved {before} to place {place}", by, at)
    return found


@transaction.atomic
def add_pass(*, layer: Layer, by: Person | None, at: datetime) -> Pass:
    """Plan another pass after the last one of a layer.

    A sheet cut later for the layer has it too.

    Raises
    ------
    Refused
        When the layer is clear, has no sheet or too many passes, or the stack is checked
        already.
    """
    own = _own(_open_stack(layer.piece), layer)
    if layer.technique == Technique.CLEAR:
        raise Refused(f"{layer} is clear: there is nothing to paint or burn on.")
    if own.sheet is None:
        raise Refused(f"{layer} has no sheet. Start it on a new one first.")
    if len(own.passes) >= MOST_PASSES:
        raise Refused(f"{layer} has {MOST_PASSES} passes, and none can be added.")
    _plan_passes(layer, +1)
    added: Pass = Pass.across_studios.create(
        studio_id=layer.studio_id, sheet=own.sheet, number=len(own.passes) + 1
    )
    _note(layer, f"{layer}: one more pass, {added.number} in all", by, at)
    return added


@transaction.atomic
def take_out_pass(*, layer: Layer, by: Person | None, at: datetime) -> None:
    """Take out the last pass of a layer, if nothing was done for it yet.

    Raises
    ------
    Refused
        When it is the only planned one, is painted, or repeats one that must be fired
        again; or when the stack is checked already.
    """
    own = _own(_open_stack(layer.piece), layer)
    last = own.passes[-1] if own.passes else None
    planned = sum(not one.is_repeat for one in own.passes)
    if last is None or planned < 2 or last.painted_at is not None or last.is_repeat:
        raise Refused(f"{layer} has no pass that can be taken out.")
    _plan_passes(layer, -1)
    last.delete()
    _note(layer, f"{layer}: one pass less, {len(own.passes) - 1} in all", by, at)


def _open_stack(piece: Piece) -> PieceView:
    """Hold the piece and return it.

    Raises
    ------
    Refused
        When its stack was checked already, or it is finished or lost.
    """
    view = lock_piece(piece)
    if view.events or view.is_closed:
        raise Refused(
            f"The layers of {piece.title} stay as they are: {view.stage_words.lower()}."
        )
    return view


def _own(view: PieceView, layer: Layer) -> LayerView:
    for one in view.layers:
        if one.layer.pk == layer.pk:
            return one
    raise Refused(f"{layer} was taken out of the stack. Put it back first.")


def _refuse_place(place: int, last: int) -> None:
    if not 1 <= place <= last:
        raise Refused(f"The places are 1, at the back, to {last}, at the front.")


def _refuse_in_load(own: LayerView) -> None:
    for one in own.passes:
        # The loads are a higher app's rows; Django's reverse name saves the import.
        waits = one.load_items.filter(firing__cancelled_at__isnull=True)
        if not one.outcome and waits.exists():
            raise Refused(f"{one} lies in a load. Take it out of the firing first.")


def _layers(view: PieceView) -> list[Layer]:
    return [one.layer for one in view.layers]


def _put(layer: Layer, place: int, others: list[Layer]) -> None:
    """Number the stack with a layer at its place among the others."""
    others.insert(place - 1, layer)
    _number(others)


def _number(order: Sequence[Layer]) -> None:
    """Number layers from the back."""
    Layer.across_studios.filter(pk__in=[one.pk for one in order]).update(
        number=F("number") + ASIDE
    )
    for number, one in enumerate(order, start=1):
        Layer.across_studios.filter(pk=one.pk).update(number=number)
        one.number = number


def _plan_passes(layer: Layer, more: int) -> None:
    Layer.across_studios.filter(pk=layer.pk).update(
        planned_passes=F("planned_passes") + more
    )


def _note(layer: Layer, what: str, by: Person | None, at: datetime) -> None:
    history.record(studio=layer.studio, by=by, at=at, what=what, piece=layer.piece)
