"""Which layers have a place in the plan, and in words what a load made up by hand takes
over and which layers lose their place.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime

from firing.loads.selectors.firings import standing_items
from firing.models import Booking, PlannedFiring, PlannedItem, PlanState
from firing.plans.selectors.words import layer_words
from studio.models import HistoryEntry, Pass, Piece, Studio
from studio.viewer import Viewer

PLANNED, LOADED, NOWHERE = "planned", "loaded", ""


class Places:
    """Where each pass of a studio will be fired, read once."""

    def __init__(self, studio: Studio) -> None:
        planned = PlannedItem.owned.for_studio(studio).filter(
            layer__isnull=False,
            firing__plan__state=PlanState.ACCEPTED,
            firing__booking__cancelled_at__isnull=True,
        )
        # By its key where it has one: firing a pass again renumbers those after it.
        self._passes: set[int] = set()
        self._refs: set[tuple[int, int, int]] = set()
        for item in planned.order_by("pk"):
            if item.of_pass_id is not None:
                self._passes.add(item.of_pass_id)
            elif item.layer_id is not None:
                self._refs.add((item.layer_id, item.attempt, item.number))
        loaded = standing_items(studio).filter(
            firing__finished_at__isnull=True, of_pass__isnull=False
        )
        self._loaded = set(loaded.values_list("of_pass", flat=True).order_by("pk"))

    def of(self, one: Pass, *, layer: int, attempt: int) -> str:
        """Return whether a pass is in a load, in a planned one, or in none."""
        if one.pk in self._loaded:
            return LOADED
        is_planned = (
            one.pk in self._passes or (layer, attempt, one.number) in self._refs
        )
        return PLANNED if is_planned else NOWHERE

    def of_uncut(self, layer: int) -> str:
        """Return whether the plan has a place for a layer that is still to be cut."""
        is_planned = any(ref[0] == layer for ref in self._refs)
        return PLANNED if is_planned else NOWHERE


def places_words(items: Iterable[PlannedItem]) -> str:
    """Return "layers 1, 2 of Low water; layer 3 of Weir"."""
    return "; ".join(
        f"{layer_words(numbers)} of {piece}"
        for piece, numbers in layers_by_piece(items).items()
    )


def layers_by_piece(items: Iterable[PlannedItem]) -> dict[Piece, list[int]]:
    """Return the numbers of the planned layers, by piece."""
    numbers: dict[Piece, list[int]] = defaultdict(list)
    for item in items:
        if item.layer is not None:
            numbers[item.piece].append(item.layer.number)
    return numbers


def ready_of(planned: PlannedFiring | None, waiting: Sequence[Pass]) -> list[Pass]:
    """Return which of the waiting passes are in a planned firing."""
    items = [] if planned is None else list(planned.items.all())
    return [one for one in waiting if any(item.is_of(one) for item in items)]


def take_over_words(
    planned: PlannedFiring, waiting: Sequence[Pass], viewer: Viewer, now: datetime
) -> str:
    """Say what a load made up now takes over from the plan, and what it displaces.

    `waiting` are the painted passes that can go into it.
    """
    items = list(planned.items.all())
    unready = [item for item in items if not any(item.is_of(p) for p in waiting)]
    when = viewer.moment(planned.booking.starts_at, now)
    told = [
        f"Planned for {planned.booking.kiln} {when}: {places_words(items)}.",
    ]
    if len(items) > 1:
        told.append("Layers left out will be rescheduled.")
    if unready:
        told.append(f"Not painted yet: {places_words(unready)}.")
    return " ".join(told)


def lost_subject(booking: Booking) -> str:
    """Return what the history calls the places that a booking lost."""
    return f"place {booking.pk}"


def lost_places(booking: Booking, *, at: datetime) -> list[str]:
    """Return what lost its planned place when a booking was taken over at this instant."""
    lines = HistoryEntry.owned.for_studio(booking.studio).filter(
        subject=lost_subject(booking), at=at
    )
    return [
        f"{line.piece}: {line.what}."
        for line in lines.select_related("piece").order_by("pk")
    ]
