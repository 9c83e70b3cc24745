"""What goes into the kiln in each booking: a firing's load, or what a plan wants.

Both are read the same way, in two queries for any number of bookings.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Q

from firing.loads.selectors.firings import piece_of
from firing.loads.selectors.names import firing_name
from firing.models import Booking, Firing, FiringKind, LoadItem, PlannedItem
from studio.models import Glass, Piece, Studio


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadThing:
    """A sheet with the pass to burn on, or a whole stack.

    A stack has no layer. A sheet that is still to be cut has a layer and no pass.
    """

    piece: Piece
    glass: Glass
    layer_pk: int | None = None
    layer_number: int = 0
    pass_pk: int | None = None
    pass_number: int = 0

    @property
    def is_stack(self) -> bool:
        return self.layer_pk is None


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingLoad:
    """The load of one booking; empty for time without a firing."""

    kind: str = ""
    things: tuple[LoadThing, ...] = ()

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """Return the pieces in it, each once."""
        return tuple({thing.piece.pk: thing.piece for thing in self.things}.values())

    @property
    def name(self) -> str:
        """Tell this load apart from others."""
        return firing_name(
            self.kind,
            stacks=[thing.piece.title for thing in self.things if thing.is_stack],
            layers=[
                (thing.piece.title, thing.layer_number)
                for thing in self.things
                if not thing.is_stack
            ],
        )

    @property
    def is_enamel(self) -> bool:
        return self.kind == FiringKind.ENAMEL

    @property
    def layer_passes(self) -> frozenset[tuple[int, int]]:
        """Return (layer, number of the pass) of every sheet in it."""
        return frozenset(
            (thing.layer_pk, thing.pass_number)
            for thing in self.things
            if thing.layer_pk is not None
        )


EMPTY = BookingLoad()


def booking_name(booking: Booking) -> str:
    """Name one booking by what is in it; time without a load by its title."""
    load = booking_loads(booking.studio, [booking]).get(booking.pk, EMPTY)
    return load.name if load.things else booking.title


def booking_loads(
    studio: Studio, bookings: Iterable[Booking], *, of: Collection[int] | None = None
) -> Mapping[int, BookingLoad]:
    """Return the loads of bookings, by the bookings' keys.

    `of` are keys of pieces: then only what is in the loads of these.
    """
    keys = [booking.pk for booking in bookings]
    of_them, planned_of_them = Q(), Q()
    if of is not None:
        of_them = Q(piece__in=of) | Q(of_pass__sheet__layer__piece__in=of)
        planned_of_them = Q(piece__in=of)
    things: dict[int, list[LoadThing]] = defaultdict(list)
    kinds: dict[int, str] = {}
    for item in (
        LoadItem.owned.for_studio(studio)
        .filter(of_them, firing__booking__in=keys)
        .select_related(
            "firing",
            "piece__glass",
            "of_pass__sheet__layer__piece",
            "of_pass__sheet__layer__glass",
        )
        .order_by("pk")
    ):
        kinds[item.firing.booking_id] = item.firing.kind
        thing = _of_load_item(item)
        if thing is not None:
            things[item.firing.booking_id].append(thing)
    for planned in (
        PlannedItem.owned.for_studio(studio)
        .filter(planned_of_them, firing__booking__in=keys)
        .select_related("firing", "layer")
        .prefetch_related("piece__glass", "layer__glass")
        .order_by("pk")
    ):
        booking_pk = planned.firing.booking_id
        kinds[booking_pk] = planned.firing.kind
        things[booking_pk].append(
            LoadThing(
                piece=planned.piece,
                glass=(planned.layer or planned.piece).glass,
                layer_pk=planned.layer_id,
                layer_number=planned.layer.number if planned.layer else 0,
                pass_pk=planned.of_pass_id,
                pass_number=planned.number,
            )
        )
    return {
        key: BookingLoad(kind=kind, things=tuple(things[key]))
        for key, kind in kinds.items()
    }


def _of_load_item(item: LoadItem) -> LoadThing | None:
    piece = piece_of(item)
    if piece is None:
        return None
    if item.of_pass is None:
        return LoadThing(piece=piece, glass=piece.glass)
    layer = item.of_pass.sheet.layer
    return LoadThing(
        piece=piece,
        glass=layer.glass,
        layer_pk=layer.pk,
        layer_number=layer.number,
        pass_pk=item.of_pass_id,
        pass_number=item.of_pass.number,
    )


def is_started(booking: Booking) -> bool:
    """Return whether a booking's firing has started: then nothing moves it."""
    firing: Firing | None = getattr(booking, "firing", None)
    return firing is not None and firing.started_at is not None
