"""Kiln time that a standing plan keeps, for tests: one booking, its plan and its load."""

import datetime as dt

from firing.models import Booking, Plan, PlannedFiring, PlannedItem, PlanState
from studio.models import Kiln, Piece, Studio
from tests import make
from tests.make import NOW

HOUR = dt.timedelta(hours=1)


def standing(studio: Studio) -> Plan:
    """Make an accepted plan without any firings."""
    return Plan.across_studios.create(
        studio=studio, number=1, state=PlanState.ACCEPTED, asked_at=NOW
    )


def keep(
    plan: Plan,
    piece: Piece,
    *,
    starts_at: dt.datetime,
    kind: str = "enamel",
    number: int = 1,
    hours: float = 24.0,
    kiln: Kiln | None = None,
) -> Booking:
    """Keep kiln time for a pass of the first two layers, or for the whole stack."""
    curve = [[0, 20], [1800, 20], [7200, 780], [hours * 3600 - 1800, 50]]
    booking = Booking.across_studios.create(
        studio=plan.studio,
        kiln=kiln or make.kiln(studio=plan.studio),
        title=f"{kind} {number} of {piece}",
        starts_at=starts_at,
        ends_at=starts_at + hours * HOUR,
        is_provisional=True,
        planned_curve=curve,
        booked_at=NOW,
    )
    row = PlannedFiring.across_studios.create(
        studio=plan.studio,
        plan=plan,
        booking=booking,
        kind=kind,
        unload_at=booking.opens_at,
    )
    layers = list(piece.layers.order_by("number")[:2]) if kind == "enamel" else [None]
    for layer in layers:
        PlannedItem.across_studios.create(
            studio=plan.studio,
            firing=row,
            piece=piece,
            layer=layer,
            attempt=1 if layer else 0,
            number=number if layer else 0,
        )
    return booking
