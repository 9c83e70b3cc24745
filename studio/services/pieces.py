"""What is done to a piece as a whole: planned, stacked, fired, finished, lost."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from studio.errors import Refused
from studio.models import (
    Glass,
    Layer,
    Outcome,
    Person,
    Piece,
    PieceEvent,
    PieceEventKind,
    Studio,
    Technique,
)
from studio.selectors.glass_checks import mixed_problems
from studio.selectors.pieces import PieceView
from studio.services import history
from studio.services.locks import lock_piece
from studio.services.sheets import cut_sheet
from studio.services.stock_use import take_for_fuse, take_for_stack
from studio.stages import Stage
from studio.tenancy import same_studio
from studio.viewer import Viewer

# Sheets of one nominal thickness vary, and enamel and bedding add a little: a stack
# further off than this was miscounted or mismeasured. Common practice, no source.
HEIGHT_TOLERANCE = 0.15

CLEAR = Technique.CLEAR


class StackNotRight(Refused):
    """A stack may not be fused as it is; `problems` are sentences, one each."""

    def __init__(self, problems: Sequence[str]) -> None:
        super().__init__(" ".join(problems))
        self.problems = tuple(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerPlan:
    """One layer to be made, in order from the back."""

    technique: str
    passes: int
    glass: Glass
    title: str = ""


@transaction.atomic
def plan_piece(
    *,
    studio: Studio,
    title: str,
    width_mm: float,
    height_mm: float,
    glass: Glass,
    layers: Sequence[LayerPlan],
    by: Person | None,
    at: datetime,
    maker: Person | None = None,
    is_dammed: bool = True,
    maquette_of: Piece | None = None,
    remake_of: Piece | None = None,
    note: str = "",
) -> Piece:
    """Make a piece with its layers, their first sheets and planned passes.

    Raises
    ------
    Refused
        When there is no layer, or glasses do not go together.
    """
    same_studio(studio, glass, maquette_of, remake_of, *(plan.glass for plan in layers))
    if not layers:
        raise Refused("A piece needs at least one layer.")
    refuse_mixed([plan.glass for plan in layers])
    piece = Piece.across_studios.create(
        studio=studio,
        title=title,
        width_mm=width_mm,
        height_mm=height_mm,
        glass=glass,
        is_dammed=is_dammed,
        maker=maker,
        maquette_of=maquette_of,
        remake_of=remake_of,
        note=note,
        created_at=at,
    )
    for number, plan in enumerate(layers, start=1):
        layer = Layer.across_studios.create(
            studio=studio,
            piece=piece,
            number=number,
            technique=plan.technique,
            glass=plan.glass,
            planned_passes=0 if plan.technique == Technique.CLEAR else plan.passes,
            title=plan.title,
        )
        cut_sheet(layer=layer, attempt=1, at=at)
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"Planned {piece.title} with {len(layers)} layers",
        piece=piece,
    )
    return piece


def refuse_mixed(glasses: Sequence[Glass]) -> None:
    """Refuse to fuse glasses into one slab if they would pull at each other.

    Raises
    ------
    Refused
        With the layers, counted from the back, and how hard they would pull.
    """
    if not glasses:
        return
    problems = mixed_problems(glasses, Viewer.of_studio(glasses[0].studio))
    if problems:
        raise Refused(" ".join(problems))


def stack_problems(
    view: PieceView, *, layers_counted: int, measured_height_mm: float
) -> list[str]:
    """Return what is wrong with a stack, in sentences; an empty list means nothing."""
    problems = []
    waiting = [v.number for v in view.layers if not v.is_done]
    if waiting:
        numbers = ", ".join(map(str, waiting))
        problems.append(f"Not done yet: layer {numbers}. Paint and fire them first.")
    if layers_counted != len(view.layers):
        problems.append(
            f"The plan has {len(view.layers)} layers, you counted {layers_counted}. "
            "Count again from the back."
        )
    viewer = Viewer.of_studio(view.piece.studio)
    problems += mixed_problems([v.layer.glass for v in view.layers], viewer)
    nominal = view.stack_height_mm
    if abs(measured_height_mm - nominal) > HEIGHT_TOLERANCE * nominal:
        problems.append(
            f"{len(view.layers)} sheets should stand about {viewer.length(nominal)} "
            f"high, you measured {viewer.length(measured_height_mm)}. Measure again, "
            "or look for a missing or doubled sheet."
        )
    return problems


@transaction.atomic
def check_stack(
    *,
    piece: Piece,
    layers_counted: int,
    measured_height_mm: float,
    is_order_right: bool,
    by: Person | None,
    at: datetime,
    note: str = "",
) -> PieceEvent:
    """Record that the stack was checked: count, order, glass and height.

    Raises
    ------
    StackNotRight
        Naming everything that is wrong; nothing is recorded then.
    Refused
        When the piece is not at the point of being stacked.
    """
    view = lock_piece(piece)
    if view.stage not in {Stage.READY_TO_STACK, Stage.STACKED, Stage.PAINTING}:
        raise Refused(f"{piece.title} cannot be stacked: {view.stage_words.lower()}.")
    problems = stack_problems(
        view, layers_counted=layers_counted, measured_height_mm=measured_height_mm
    )
    if not is_order_right:
        problems.append("Put the layers in order first: 1 at the back.")
    if problems:
        raise StackNotRight(problems)
    history.record(
        studio=piece.studio,
        by=by,
        at=at,
        what=(
            f"Checked the stack: {layers_counted} layers, "
            f"{Viewer.of_studio(piece.studio).length(measured_height_mm)} high"
        ),
        piece=piece,
    )
    event = _add_event(
        piece=piece,
        kind=PieceEventKind.STACK_CHECKED,
        at=at,
        by=by,
        note=note,
        measured_height_mm=measured_height_mm,
    )
    take_for_stack(event=event, by=by, at=at)
    return event


@transaction.atomic
def note_into_kiln(
    *,
    piece: Piece,
    firing_kind: str,
    by: Person | None,
    at: datetime,
) -> PieceEvent:
    """Record that a firing with this piece in it was started.

    Raises
    ------
    Refused
        When its stack was never checked, it is in a kiln already, lost or stopped.
    """
    view = lock_piece(piece)
    if not view.events:
        raise Refused(f"Check the stack of {piece.title} first, then fire it.")
    if view.stage in {Stage.IN_KILN, Stage.LOST, Stage.STOPPED}:
        raise Refused(
            f"{piece.title} cannot go into a kiln: {view.stage_words.lower()}."
        )
    event = _add_event(
        piece=piece,
        kind=PieceEventKind.INTO_KILN,
        at=at,
        by=by,
        firing_kind=firing_kind,
    )
    take_for_fuse(event=event, by=by, at=at)
    return event


@transaction.atomic
def note_out_of_kiln(
    *,
    piece: Piece,
    firing_kind: str,
    outcome: str,
    by: Person | None,
    at: datetime,
    note: str = "",
) -> PieceEvent:
    """Record how a firing left this piece.

    Raises
    ------
    Refused
        When it is in no kiln.
    """
    view = lock_piece(piece)
    if view.stage is not Stage.IN_KILN:
        raise Refused(f"{piece.title} is in no kiln: {view.stage_words.lower()}.")
    return _add_event(
        piece=piece,
        kind=PieceEventKind.OUT_OF_KILN,
        at=at,
        by=by,
        note=note,
        outcome=Outcome(outcome),
        firing_kind=firing_kind,
    )


@transaction.atomic
def finish_piece(
    *, piece: Piece, by: Person | None, at: datetime, note: str = ""
) -> PieceEvent:
    """Record that a piece came out well, was inspected and is finished.

    Raises
    ------
    Refused
        When it is not out of the kiln and fine, or a kiln is still held for it.
    """
    view = lock_piece(piece)
    if view.stage is not Stage.TO_INSPECT:
        raise Refused(
            f"{piece.title} cannot be finished yet: {view.stage_words.lower()}."
        )
    _refuse_booked(piece)
    history.record(
        studio=piece.studio, by=by, at=at, what="Inspected and finished", piece=piece
    )
    return _add_event(
        piece=piece, kind=PieceEventKind.FINISHED, at=at, by=by, note=note
    )


@transaction.atomic
def mark_lost(
    *, piece: Piece, by: Person | None, at: datetime, note: str
) -> PieceEvent:
    """Record that a piece is lost and will not be finished.

    Raises
    ------
    Refused
        When it is already finished or lost, inside a closed kiln or booked for one, or
        no reason is given.
    """
    if not note.strip():
        raise Refused("Say how the piece was lost.")
    view = lock_piece(piece)
    if view.is_closed or view.stage is Stage.IN_KILN:
        raise Refused(
            f"{piece.title} cannot be marked as lost: {view.stage_words.lower()}."
        )
    _refuse_booked(piece)
    history.record(studio=piece.studio, by=by, at=at, what=f"Lost: {note}", piece=piece)
    return _add_event(piece=piece, kind=PieceEventKind.LOST, at=at, by=by, note=note)


def _refuse_booked(piece: Piece) -> None:
    """Refuse to close a piece with a booked kiln: the kiln would stay empty."""
    # The loads are a higher app's rows; Django's reverse name saves the import.
    waiting = piece.load_items.filter(
        firing__cancelled_at__isnull=True, firing__finished_at__isnull=True
    )
    if waiting.exists():
        raise Refused(
            f"A kiln is booked for {piece.title}. Cancel that firing first, so that the "
            "kiln is free for others."
        )


def _add_event(
    *,
    piece: Piece,
    kind: str,
    at: datetime,
    by: Person | None,
    note: str = "",
    outcome: str = "",
    firing_kind: str = "",
    measured_height_mm: float | None = None,
) -> PieceEvent:
    return PieceEvent.across_studios.create(
        studio=piece.studio,
        piece=piece,
        kind=kind,
        at=at,
        by=by,
        note=note,
        outcome=outcome,
        firing_kind=firing_kind,
        measured_height_mm=measured_height_mm,
    )
