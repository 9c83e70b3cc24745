"""A firing made up by hand takes over what the standing plan has for it: no kiln is held
twice for the same glass.
"""

from collections.abc import Sequence
from datetime import datetime

from firing.models import Booking, FiringKind, PlannedFiring, PlannedItem, PlannedWork
from firing.selectors.planned import planned_firings, standing_plan
from studio.models import Kiln, Pass, Piece, Studio

REASON = "A firing was made up for it"


def take_over(
    *,
    studio: Studio,
    kiln: Kiln,
    passes: Sequence[Pass] = (),
    piece: Piece | None = None,
    starts_at: datetime,
    ends_at: datetime,
    at: datetime,
) -> Booking | None:
    """Take these passes, or the fuse of this piece, out of the standing plan.

    Returns the planned booking in the same kiln that the firing overlaps, for the firing
    to use as its own; planned firings that are left empty are given back.

    Parameters
    ----------
    starts_at, ends_at : datetime
        The span that the firing itself will hold.
    """
    plan = standing_plan(studio)
    if plan is None:
        return None
    items = _items(studio, passes, piece)
    touched = {item.firing_id for item in items}
    PlannedItem.across_studios.filter(pk__in=[item.pk for item in items]).delete()
    work = PlannedWork.owned.for_studio(studio).filter(plan=plan)
    if piece is not None:
        work.filter(piece=piece, task="assembly").delete()
    work.filter(of_pass__in=[one.pk for one in passes]).delete()
    used: Booking | None = None
    for row in planned_firings(studio).filter(pk__in=touched):
        booking = row.booking
        is_there = (
            booking.kiln_id == kiln.pk
            and booking.starts_at < ends_at
            and starts_at < booking.ends_at
        )
        if used is None and is_there:
            used = booking
            row.delete()
        elif not row.items.all():
            _give_back(row, at)
    return used


def _items(
    studio: Studio, passes: Sequence[Pass], piece: Piece | None
) -> list[PlannedItem]:
    """Return what the plan has for these passes or this stack."""
    found = PlannedItem.owned.for_studio(studio)
    if piece is not None:
        return list(found.filter(piece=piece).exclude(firing__kind=FiringKind.ENAMEL))
    by_pass = {one.pk for one in passes}
    by_ref = {
        (one.sheet.layer_id, one.sheet.attempt, one.number): one.pk for one in passes
    }
    layers = {one.sheet.layer_id for one in passes}
    return [
        item
        for item in found.filter(layer__in=layers)
        if item.of_pass_id in by_pass
        or (
            item.of_pass_id is None
            and (item.layer_id, item.attempt, item.number) in by_ref
        )
    ]


def _give_back(row: PlannedFiring, at: datetime) -> None:
    booking = row.booking
    booking.cancelled_at, booking.cancelled_reason = at, REASON
    booking.save(update_fields=["cancelled_at", "cancelled_reason"])
    row.delete()
