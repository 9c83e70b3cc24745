"""Reads of pieces and their layers, with stage and state derived on the way."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce

from studio import stages
from studio.models import (
    Layer,
    Pass,
    Piece,
    PieceEvent,
    PieceEventKind,
    Sheet,
    Studio,
    Technique,
)
from studio.stages import EventFacts, LayerState, PassFacts, Stage
from studio.tenancy import StudioQuerySet
from studio.units import glass_weight_kg

# A slab is held by its edges, close to the floor or over a kiln's wall: far less than
# what one person may lift at best. Common practice, no source.
HEAVY_KG = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerView:
    """A layer with its current sheet, that sheet's passes, and what is next."""

    layer: Layer
    sheet: Sheet | None
    passes: tuple[Pass, ...]
    earlier_sheets: tuple[Sheet, ...]
    state: LayerState

    @property
    def number(self) -> int:
        return self.layer.number

    @property
    def state_words(self) -> str:
        """Say the state in words."""
        return stages.LAYER_STATE_WORDS[self.state]

    @property
    def is_done(self) -> bool:
        return self.state in stages.DONE_STATES

    @property
    def all_passes(self) -> tuple[Pass, ...]:
        """Return the passes of every sheet, including those set aside."""
        earlier = [p for sheet in self.earlier_sheets for p in sheet.read_passes]
        return (*earlier, *self.passes)

    @property
    def next_pass(self) -> Pass | None:
        """Return the first pass that is not burnt on, painted or not."""
        return next((p for p in self.passes if not p.outcome), None)

    @property
    def pass_to_paint(self) -> Pass | None:
        """Return the pass that may be painted now."""
        waiting = self.next_pass
        return None if waiting is None or waiting.painted_at else waiting

    @property
    def pass_to_fire(self) -> Pass | None:
        """Return the painted pass that waits for its enamel firing."""
        waiting = self.next_pass
        return waiting if waiting is not None and waiting.painted_at else None


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceView:
    """A piece with its layers from back to front, its events and its stage."""

    piece: Piece
    layers: tuple[LayerView, ...]
    events: tuple[PieceEvent, ...]
    stage: Stage

    @property
    def stage_words(self) -> str:
        """Say the stage in words."""
        return stages.STAGE_WORDS[self.stage]

    @property
    def is_closed(self) -> bool:
        """Return whether nothing more will be done to it."""
        return self.stage in stages.CLOSED_STAGES

    @property
    def is_fused(self) -> bool:
        """Return whether it is one slab by now."""
        return any(
            event.kind == PieceEventKind.OUT_OF_KILN
            and event.firing_kind == "full fuse"
            for event in self.events
        )

    def may_change_glass(self, own: LayerView) -> bool:
        """Return whether a layer's glass may change: unpainted and not stacked."""
        is_painted = any(p.painted_at for p in own.all_passes)
        return not (self.events or self.is_closed or is_painted)

    @property
    def done_count(self) -> int:
        return sum(view.is_done for view in self.layers)

    @property
    def stack_height_mm(self) -> float:
        """Return the sum of the sheets' nominal thicknesses."""
        return sum(view.layer.glass.sheet_thickness_mm for view in self.layers)

    @property
    def weight_kg(self) -> float:
        """Return what the glass of the stack weighs, fused or not."""
        width, height = self.piece.width_mm, self.piece.height_mm
        return sum(
            glass_weight_kg(width, height, one.sheet_thickness_mm, one.density_kg_m3)
            for one in (view.layer.glass for view in self.layers)
        )

    @property
    def lifting_words(self) -> str:
        """Say how it is lifted when it is heavy."""
        return "lift it with two people" if self.weight_kg >= HEAVY_KG else ""

    @property
    def measured_height_mm(self) -> float | None:
        """Return the height of the last stack check, if there was one."""
        heights = [e.measured_height_mm for e in self.events if e.measured_height_mm]
        return heights[-1] if heights else None

    @property
    def height_mm(self) -> float:
        """Return the measured height, else the nominal one."""
        return self.measured_height_mm or self.stack_height_mm


def pieces(studio: Studio) -> StudioQuerySet[Piece]:
    """Return the studio's pieces, newest first; `view_pieces` reads their layers."""
    found: StudioQuerySet[Piece] = (
        Piece.owned.for_studio(studio)
        .select_related("glass", "maker", "maquette_of")
        .order_by("-created_at", "-pk")
    )
    return found


def events(studio: Studio) -> StudioQuerySet[PieceEvent]:
    """Return what happened to the studio's pieces, taken back or not."""
    found: StudioQuerySet[PieceEvent] = PieceEvent.owned.for_studio(studio)
    return found.select_related("piece__studio")


def standing_events() -> StudioQuerySet[PieceEvent]:
    """Return what happened to pieces, without what was taken back, in every studio."""
    found: StudioQuerySet[PieceEvent] = PieceEvent.across_studios.filter(
        taken_back_at__isnull=True
    )
    return found


def view_layer(layer: Layer) -> LayerView:
    """Derive a layer's state from its sheets and passes, as `view_pieces` reads them."""
    sheets = layer.read_sheets
    in_use = next((sheet for sheet in sheets if sheet.set_aside_at is None), None)
    passes = tuple(in_use.read_passes) if in_use is not None else ()
    return LayerView(
        layer=layer,
        sheet=in_use,
        passes=passes,
        earlier_sheets=tuple(s for s in sheets if s is not in_use),
        state=stages.layer_state(
            is_clear=layer.technique == Technique.CLEAR,
            has_sheet=in_use is not None,
            attempt=in_use.attempt if in_use is not None else 0,
            passes=[
                PassFacts(is_painted=p.painted_at is not None, outcome=p.outcome)
                for p in passes
            ],
        ),
    )


def in_work(view: PieceView) -> PieceView:
    """Return a lost or stopped piece as it was before that."""
    if view.stage not in {Stage.LOST, Stage.STOPPED}:
        return view
    kept = (e for e in view.events if e.kind != PieceEventKind.LOST)
    return _view(view.piece, view.layers, tuple(kept), is_stopped=False)


def remake_of(lost: Piece) -> Piece | None:
    """Return the piece that is made instead of a lost one, if any."""
    found: Piece | None = (
        Piece.owned.for_studio(lost.studio).filter(remake_of=lost).first()
    )
    return found


def _view(
    piece: Piece,
    views: tuple[LayerView, ...],
    events: tuple[PieceEvent, ...],
    *,
    is_stopped: bool,
) -> PieceView:
    return PieceView(
        piece=piece,
        layers=views,
        events=events,
        stage=stages.piece_stage(
            layers=[view.state for view in views],
            events=[
                EventFacts(
                    kind=event.kind,
                    outcome=event.outcome,
                    firing_kind=event.firing_kind,
                )
                for event in events
            ],
            any_painted=any(
                view.state is LayerState.BURNT
                or any(p.painted_at for p in view.all_passes)
                for view in views
            ),
            is_stopped=is_stopped,
        ),
    )


def piece_view(studio: Studio, pk: int) -> PieceView:
    """Return one piece of the studio.

    Raises
    ------
    Piece.DoesNotExist
        When the studio has no such piece.
    """
    return view_pieces([pieces(studio).get(pk=pk)])[0]


def fresh(piece: Piece) -> PieceView:
    """Read a piece again: services decide on what the database says now."""
    return piece_view(piece.studio, piece.pk)


def _with_its_end(found: StudioQuerySet[Piece]) -> StudioQuerySet[Piece]:
    """Let the database say which pieces are closed: `CLOSED_STAGES`, as a query."""
    events = standing_events().filter(piece=OuterRef("pk"))
    last = events.order_by("-at", "-pk").values("kind")[:1]
    return found.annotate(
        last_kind=Coalesce(Subquery(last), Value("")),
        is_lost=Exists(events.filter(kind=PieceEventKind.LOST)),
    )


_IS_CLOSED = (
    Q(is_lost=True) | Q(last_kind=PieceEventKind.FINISHED) | Q(stopped_at__isnull=False)
)
_IS_FINISHED = Q(is_lost=False, last_kind=PieceEventKind.FINISHED)


def pieces_in_work(studio: Studio) -> StudioQuerySet[Piece]:
    """Return the pieces with work left, newest first; none that is stopped."""
    return _with_its_end(pieces(studio)).exclude(_IS_CLOSED)


def finished_pieces(studio: Studio) -> StudioQuerySet[Piece]:
    """Return the finished pieces, newest first, without the lost ones."""
    return _with_its_end(pieces(studio)).filter(_IS_FINISHED)


def finished_anywhere() -> StudioQuerySet[Piece]:
    """Return the finished pieces of all studios, for the worker's sweep."""
    return _with_its_end(Piece.across_studios.all()).filter(_IS_FINISHED)


def open_pieces(studio: Studio) -> list[PieceView]:
    """Return every piece with work left, newest first."""
    return view_pieces(pieces_in_work(studio))


def open_work(studio: Studio) -> list[PieceView]:
    """Return every piece with work left, newest first, for what is left to do.

    Layers that are done come without their sheets and passes: most of the rows there
    are, and nothing of them is to be done.
    """
    return view_pieces(pieces_in_work(studio), done_too=False)


def view_pieces(found: Iterable[Piece], *, done_too: bool = True) -> list[PieceView]:
    """Return the views of some of `pieces`, with a query for each kind of row.

    For thousands of rows that takes two thirds of the time of nested prefetching, which
    names every row above in each query; plain lists, which the models declare, take a
    quarter of the time of a manager for each row. Sheets and passes of layers that are
    done are read if `done_too`.
    """
    views = {piece.pk: piece for piece in found}
    for piece in views.values():
        piece.read_layers, piece.read_events = [], []
    events = standing_events().filter(piece__in=views).select_related("by")
    for event in events:
        event.piece = views[event.piece_id]
        event.piece.read_events.append(event)
    layers: dict[int, Layer] = {}
    in_stack = Layer.across_studios.filter(piece__in=views, taken_out_at__isnull=True)
    for layer in in_stack.prefetch_related("glass"):
        layers[layer.pk], layer.read_sheets = layer, []
        layer.piece = views[layer.piece_id]
        layer.piece.read_layers.append(layer)
    done: dict[int, LayerView] = {}
    within: dict[str, Any] = {
        "layer__piece__in": views,
        "layer__taken_out_at__isnull": True,
    }
    if not done_too:
        done = _done_layers(layers, within)
        within = {"layer__in": layers.keys() - done.keys()}
    sheets: dict[int, Sheet] = {}
    for sheet in Sheet.across_studios.filter(**within):
        sheets[sheet.pk], sheet.read_passes = sheet, []
        sheet.layer = layers[sheet.layer_id]
        sheet.layer.read_sheets.append(sheet)
    passes = Pass.across_studios.filter(**_of_sheets(within))
    for one in passes.prefetch_related("painted_by"):
        one.sheet = sheets[one.sheet_id]
        one.sheet.read_passes.append(one)
    return [
        _view(
            piece,
            tuple(done.get(one.pk) or view_layer(one) for one in piece.read_layers),
            tuple(piece.read_events),
            is_stopped=piece.stopped_at is not None,
        )
        for piece in views.values()
    ]


def _of_sheets(within: Mapping[str, Any]) -> dict[str, Any]:
    return {f"sheet__{name}": value for name, value in within.items()}


def _done_layers(
    layers: Mapping[int, Layer], within: Mapping[str, Any]
) -> dict[int, LayerView]:
    """Return the layers that are done, by their keys, without sheets and passes."""
    in_use = {**within, "set_aside_at__isnull": True}
    cut = Sheet.across_studios.filter(**in_use).order_by()
    waiting = Pass.across_studios.filter(**_of_sheets(in_use), outcome="").order_by()
    waits = set(waiting.values_list("sheet__layer_id", flat=True))
    found = {}
    for pk in set(cut.values_list("layer_id", flat=True)):
        is_clear = layers[pk].technique == Technique.CLEAR
        if is_clear or pk not in waits:
            found[pk] = LayerView(
                layer=layers[pk],
                sheet=None,
                passes=(),
                earlier_sheets=(),
                state=LayerState.CLEAR if is_clear else LayerState.BURNT,
            )
    return found


def layer_view(view: PieceView, number: int) -> LayerView | None:
    """Return a piece's layer of that number, if there is one."""
    return next((one for one in view.layers if one.number == number), None)


def taken_out_layers(piece: Piece) -> StudioQuerySet[Layer]:
    """Return the layers that are no part of the stack any more, last taken out first."""
    return (
        Layer.owned.for_studio(piece.studio)
        .filter(piece=piece, taken_out_at__isnull=False)
        .select_related("piece__studio")
        .order_by("-taken_out_at", "-pk")
    )


def layer_of(studio: Studio, pk: int) -> Layer:
    """Return a layer, in the stack or taken out.

    Raises
    ------
    Layer.DoesNotExist
        When the studio has no such layer.
    """
    found: Layer = (
        Layer.owned.for_studio(studio)
        .select_related("piece__studio", "glass")
        .get(pk=pk)
    )
    return found


def piece_titles(studio: Studio) -> StudioQuerySet[Piece]:
    """Return the studio's pieces by title, without their layers: for choices."""
    return Piece.owned.for_studio(studio).order_by("title", "pk")


def pass_of(studio: Studio, pass_pk: int) -> Pass:
    """Return a pass with its sheet, layer and piece.

    Raises
    ------
    Pass.DoesNotExist
        When the studio has no such pass.
    """
    return (
        Pass.owned.for_studio(studio)
        .select_related("sheet__layer__piece__studio")
        .get(pk=pass_pk)
    )


def titles_in_work(studio: Studio) -> StudioQuerySet[Piece]:
    """Return the pieces with work left by title, without their layers: for choices."""
    return pieces_in_work(studio).order_by("title", "pk")
