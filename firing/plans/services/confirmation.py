"""Confirms bookings of the standing plan; no later plan moves a confirmed one."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from firing.loads.selectors.planned import planned_firings
from firing.locks import lock_all_kilns
from firing.models import Booking, FiringKind, PlannedFiring
from studio.errors import Refused
from studio.models import Person, Studio
from studio.services import history


@transaction.atomic
def confirm(
    *, studio: Studio, bookings: Sequence[int] | None, by: Person | None, at: datetime
) -> int:
    """Confirm provisional bookings of the standing plan and return how many.

    Anything that must be fired before a confirmed firing is confirmed with it.

    Parameters
    ----------
    bookings : sequence of int or None
        Keys; None for all.

    Raises
    ------
    Refused
        When none of them waits to be confirmed.
    """
    # Lock this first: a plan accepted at this moment changes what there is to confirm.
    lock_all_kilns(studio)
    rows = list(planned_firings(studio).filter(booking__is_provisional=True))
    wanted = {
        row.pk for row in rows if bookings is None or row.booking_id in set(bookings)
    }
    if not wanted:
        raise Refused("There is no provisional booking to confirm here.")
    chosen = _with_what_comes_before(rows, wanted)
    found = Booking.across_studios.filter(
        pk__in=[row.booking_id for row in chosen], cancelled_at__isnull=True
    )
    count: int = found.update(is_provisional=False)
    for row in chosen:
        history.record(
            studio=studio,
            by=by,
            at=at,
            what=f"Confirmed “{row.booking.title}” in {row.booking.kiln}",
            subject=f"booking {row.booking_id}",
        )
    return count


def _with_what_comes_before(
    rows: Sequence[PlannedFiring], wanted: set[int]
) -> list[PlannedFiring]:
    """Return the wanted planned firings and those that must come before them."""
    chosen = [row for row in rows if row.pk in wanted]
    seen = {row.pk for row in chosen}
    for row in chosen:
        for other in rows:
            if other.pk not in seen and _comes_before(other, row):
                seen.add(other.pk)
                chosen.append(other)
    return sorted(chosen, key=lambda row: (row.booking.starts_at, row.pk))


def _comes_before(other: PlannedFiring, row: PlannedFiring) -> bool:
    """Return whether a planned firing burns on something that another one needs."""
    if other.kind != FiringKind.ENAMEL:
        return False
    if other.booking.ends_at > row.booking.starts_at:
        return False
    if row.kind != FiringKind.ENAMEL:
        wanted = {item.piece_id for item in row.items.all()}
        return any(item.piece_id in wanted for item in other.items.all())
    wanted_layers = {item.layer_id for item in row.items.all()}
    return any(item.layer_id in wanted_layers for item in other.items.all())
