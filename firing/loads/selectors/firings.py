"""Reads of firings: their state, their loads, and the firings of a piece."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from django.db.models import Prefetch, Q, prefetch_related_objects

from firing.drawings.curve_mark import CurveMark
from firing.loads.selectors.curve_marks import curve_marks
from firing.loads.selectors.known import Known, known_of, known_words
from firing.loads.selectors.names import name_of_load
from firing.models import Booking, Firing, LoadItem
from studio.models import Piece, Studio
from studio.selectors.named import has_words
from studio.selectors.pictures import looks_of_layers, looks_of_pieces
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


class FiringState(StrEnum):
    """The state of a firing; derived, never stored."""

    PLANNED = "planned"
    RUNNING = "running"
    COLD = "cold"
    FINISHED = "finished"
    CANCELLED = "cancelled"


STATUS_KIND = {
    FiringState.PLANNED: "planned",
    FiringState.RUNNING: "hot",
    FiringState.COLD: "waiting",
    FiringState.FINISHED: "done",
    FiringState.CANCELLED: "stopped",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringView:
    """A firing with its load and its state in words."""

    firing: Firing
    items: tuple[LoadItem, ...]
    state: FiringState
    state_words: str
    known: Known | None = None
    """Of a running one: what its readings say, or its plan."""
    warning: str = ""
    """What is wrong with it by its verdict, filled in where verdicts are known."""
    curve: CurveMark | None = None
    """Filled in where it is shown."""

    @property
    def booking(self) -> Booking:
        booking: Booking = self.firing.booking
        return booking

    @property
    def title(self) -> str:
        """Tell it apart from others: "Enamel: Mud flats 6, 8 + Reed edge 13"."""
        return title_of(self.firing)

    @property
    def status_kind(self) -> str:
        """Return the shape that `components/_status.html` draws."""
        return STATUS_KIND[self.state]

    @property
    def is_planned(self) -> bool:
        return self.state is FiringState.PLANNED

    @property
    def is_running(self) -> bool:
        """Return whether it was started and not yet unloaded."""
        return self.state in {FiringState.RUNNING, FiringState.COLD}

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """Return the pieces in the load, each once."""
        found = {}
        for item in self.items:
            piece = piece_of(item)
            if piece is not None:
                found[piece.pk] = piece
        return tuple(found.values())

    @property
    def load_words(self) -> str:
        """Say in a few words what is in it."""
        return words_of_load(self.items)


def load_words(firing: Firing) -> str:
    """Say in a few words what is in a firing."""
    return words_of_load(tuple(firing.items.all()))


def words_of_load(items: Sequence[LoadItem]) -> str:
    """Say in a few words what is in a load."""
    sheets = sum(item.of_pass_id is not None for item in items)
    parts = [str(item.piece) for item in items if item.piece_id]
    if sheets:
        parts.append(f"{sheets} layer" + ("s" if sheets > 1 else ""))
    parts += [item.description for item in items if item.description]
    return ", ".join(parts) or "Nothing in it"


def piece_of(item: LoadItem) -> Piece | None:
    """Return the piece that a load item is, or whose layer it is."""
    if item.of_pass is not None:
        return item.of_pass.sheet.layer.piece
    return item.piece


def firings(studio: Studio) -> StudioQuerySet[Firing]:
    """Return the studio's firings with kiln, booking and load, newest first."""
    return (
        Firing.owned.for_studio(studio)
        .select_related(
            "kiln", "booking__kiln", "schedule", "started_by", "finished_by"
        )
        .prefetch_related(_items())
        .order_by("-booking__starts_at", "-pk")
    )


def _items() -> "Prefetch[str]":
    items = LoadItem.across_studios.select_related(
        "kiln_user",
        "piece__glass",
        "of_pass__sheet__layer__piece",
        "of_pass__sheet__layer__glass",
    )
    return Prefetch("items", queryset=items.order_by("pk"))


def read_loads(rows: Iterable[Firing]) -> list[Firing]:
    """Read what is in firings that were read without it."""
    found = list(rows)
    prefetch_related_objects(found, _items())
    return found


def running_firings(studio: Studio) -> StudioQuerySet[Firing]:
    """Return the firings that were started and not yet unloaded."""
    return firings(studio).filter(started_at__isnull=False, finished_at__isnull=True)


def firings_of_piece(piece: Piece) -> StudioQuerySet[Firing]:
    """Return every firing of a piece or of its layers, newest first."""
    inside = LoadItem.owned.for_studio(piece.studio).filter(
        Q(piece=piece) | Q(of_pass__sheet__layer__piece=piece)
    )
    return firings(piece.studio).filter(pk__in=inside.values("firing"))


def firings_with(studio: Studio, words: Sequence[str]) -> StudioQuerySet[Firing]:
    """Return the firings of what has these words in its name, newest first."""
    # A thing in a load has one name: its piece's, its layer's piece's or its own.
    named = Piece.owned.for_studio(studio).filter(has_words(words, "title"))
    inside = LoadItem.owned.for_studio(studio).filter(
        Q(piece__in=named)
        | Q(of_pass__sheet__layer__piece__in=named)
        | has_words(words, "description")
    )
    return firings(studio).filter(pk__in=inside.values("firing"))


def running_firing_of(piece: Piece) -> Firing | None:
    """Return the firing that a piece itself is in now, if any."""
    found: Firing | None = (
        running_firings(piece.studio).filter(items__piece=piece).first()
    )
    return found


def running_items(studio: Studio, pieces: Sequence[Piece]) -> dict[int, Firing]:
    """Return the firing that each of these pieces is in now, by the piece's key."""
    rows = (
        LoadItem.owned.for_studio(studio)
        .filter(
            piece__in=pieces,
            firing__started_at__isnull=False,
            firing__finished_at__isnull=True,
        )
        .select_related("firing__booking__kiln", "firing__kiln")
    )
    return {row.piece_id: row.firing for row in rows if row.piece_id is not None}


def state_of(firing: Firing, known: Known | None) -> FiringState:
    """Derive a firing's state; `known` says what a running one's kiln is like."""
    if firing.cancelled_at is not None:
        return FiringState.CANCELLED
    if firing.finished_at is not None:
        return FiringState.FINISHED
    if firing.started_at is None:
        return FiringState.PLANNED
    if known is not None and known.is_cold:
        return FiringState.COLD
    return FiringState.RUNNING


def view_firing(firing: Firing, *, viewer: Viewer, now: datetime) -> FiringView:
    """Return a firing with its state in the reader's words."""
    return view_firings([firing], viewer=viewer, now=now)[0]


def view_firings(
    found: Iterable[Firing],
    *,
    viewer: Viewer,
    now: datetime,
    known: Mapping[int, Known] | None = None,
) -> list[FiringView]:
    """Return firings with their states in the reader's words.

    Pass in what is known of those that run, by their keys, if it is read.
    """
    rows = list(found)
    if known is None:
        known = known_of(viewer.studio, rows, now=now)
    return [_view(one, known.get(one.pk), viewer, now) for one in rows]


def with_curves(views: Iterable[FiringView], studio: Studio) -> list[FiringView]:
    """Return the views with their curves in miniature."""
    rows = list(views)
    curves = curve_marks(studio, [view.firing for view in rows])
    return [replace(view, curve=curves[view.firing.pk]) for view in rows]


def _view(
    firing: Firing, known: Known | None, viewer: Viewer, now: datetime
) -> FiringView:
    state = state_of(firing, known)
    words = f"Load and start {viewer.moment(firing.booking.starts_at, now)}"
    if known is not None:
        words = known_words(known, viewer, now)
    elif firing.finished_at is not None:
        words = f"Unloaded {viewer.moment(firing.finished_at, now)}"
    elif firing.cancelled_at is not None:
        words = "Cancelled"
    return FiringView(
        firing=firing,
        items=tuple(firing.items.all()),
        state=state,
        state_words=words,
        known=known,
    )


def title_of(firing: Firing) -> str:
    """Name a firing by what is in it."""
    return name_of_load(firing.kind, firing.items.all())


def standing_items(studio: Studio) -> StudioQuerySet[LoadItem]:
    """Return the load items of firings that are not cancelled."""
    return LoadItem.owned.for_studio(studio).filter(firing__cancelled_at__isnull=True)


def looks_of_items(studio: Studio, items: Sequence[LoadItem]) -> dict[int, str]:
    """Return the address of the picture by which each thing in a load is known."""
    passes = {
        one.pk: one.of_pass.sheet.layer_id for one in items if one.of_pass is not None
    }
    stacks = {one.pk: one.piece_id for one in items if one.piece_id is not None}
    of_layers = looks_of_layers(studio, passes.values())
    of_pieces = looks_of_pieces(studio, stacks.values())
    found = {pk: of_layers.get(layer, "") for pk, layer in passes.items()}
    return found | {pk: of_pieces.get(piece, "") for pk, piece in stacks.items()}


def load_items(studio: Studio) -> StudioQuerySet[LoadItem]:
    """Return the studio's load items, each with its firing and what it is."""
    return LoadItem.owned.for_studio(studio).select_related(
        "firing__kiln", "firing__booking", "piece", "of_pass__sheet__layer__piece"
    )
