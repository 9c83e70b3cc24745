"""What goes into the kiln in each booking: a firing's load, or what a plan wants.

Both are read the same way, in four queries for any number of bookings.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.db.models import F
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

from firing.loads.selectors.names import firing_name
from firing.models import Booking, Firing, FiringKind, LoadItem, PlannedItem
from studio.models import Glass, Piece, Studio
from studio.tenancy import StudioQuerySet


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
    studio: Studio, bookings: Iterable[Booking]
) -> Mapping[int, BookingLoad]:
    """Return the loads of bookings, by the bookings' keys.

    Rows are read as plain values, and each piece and glass once: a calendar asks for
    hundreds.
    """
    keys = [booking.pk for booking in bookings]
    rows = [
        *_rows(
            LoadItem.owned.for_studio(studio).filter(firing__booking__in=keys),
            Coalesce("piece", "of_pass__sheet__layer__piece"),
            "of_pass__sheet__layer",
            "of_pass__number",
        ),
        *_rows(
            PlannedItem.owned.for_studio(studio).filter(firing__booking__in=keys),
            F("piece"),
            "layer",
            "number",
        ),
    ]
    own = Piece.owned.for_studio(studio)
    pieces: dict[int, Piece] = own.in_bulk({row.piece for row in rows if row.piece})
    wanted = {row.layer_glass for row in rows} | {p.glass_id for p in pieces.values()}
    glasses: dict[int, Glass] = Glass.owned.for_studio(studio).in_bulk(wanted - {None})
    kinds = {row.booking: row.kind for row in rows}
    things: dict[int, list[LoadThing]] = defaultdict(list)
    for row in rows:
        if row.piece is None:
            continue
        piece = pieces[row.piece]
        things[row.booking].append(
            LoadThing(
                piece=piece,
                glass=glasses[row.layer_glass or piece.glass_id],
                layer_pk=row.layer,
                layer_number=row.layer_number or 0,
                pass_pk=row.pass_pk,
                pass_number=row.pass_number or 0,
            )
        )
    return {
        key: BookingLoad(kind=kind, things=tuple(things[key]))
        for key, kind in kinds.items()
    }


class _Row(NamedTuple):
    """A thing in a load, by keys; another maker's work has no piece."""

    booking: int
    kind: str
    piece: int | None
    layer: int | None
    layer_number: int | None
    layer_glass: int | None
    pass_pk: int | None
    pass_number: int | None


def _rows(
    items: StudioQuerySet[Any],
    piece: Combinable,
    layer: str,
    number: str,
) -> list[_Row]:
    """Read load items or planned ones; the names say where theirs stand."""
    # Sorted here: in the order of keys a database would go through all that were ever.
    found = items.order_by().values_list(
        "pk",
        "firing__booking",
        "firing__kind",
        piece,
        layer,
        f"{layer}__number",
        f"{layer}__glass",
        "of_pass",
        number,
    )
    return [_Row(*values) for _, *values in sorted(found)]


def is_started(booking: Booking) -> bool:
    """Return whether a booking's firing has started: then nothing moves it."""
    firing: Firing | None = getattr(booking, "firing", None)
    return firing is not None and firing.started_at is not None
