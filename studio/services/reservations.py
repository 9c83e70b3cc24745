"""Reserves what an accepted piece needs; told by whoever accepts it."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from studio.amounts import SQUARE_METRE
from studio.models import (
    Glass,
    Material,
    Piece,
    Reservation,
    UsedPer,
)
from studio.selectors.pieces import PieceView, fresh
from studio.selectors.stock import (
    area_of,
    is_used_with,
    materials_in_quotes,
    unit_of,
)
from studio.services.stock import whole


@transaction.atomic
def reserve(*, piece: Piece, at: datetime) -> None:
    """Reserve what a piece needs as it is planned now, instead of what it had reserved.

    What it takes counts against that; nothing stays reserved for a piece that is
    finished, lost or stopped.
    """
    needs = needs_of(fresh(piece))
    Reservation.owned.for_studio(piece.studio).filter(piece=piece).delete()
    Reservation.across_studios.bulk_create(
        Reservation(
            studio=piece.studio,
            piece=piece,
            amount=whole(amount),
            unit=unit_of(item) if isinstance(item, Material) else SQUARE_METRE,
            made_at=at,
            **{"material" if isinstance(item, Material) else "glass": item},
        )
        for item, amount in needs.items()
        if amount
    )


def needs_of(view: PieceView) -> Mapping[Glass | Material, Decimal]:
    """Return how much of each glass [m²] and material [its unit] a piece needs."""
    area = area_of(view.piece)
    needs: dict[Glass | Material, Decimal] = {}
    for one in view.layers:
        glass = one.layer.glass
        needs[glass] = needs.get(glass, Decimal(0)) + area
    for material in materials_in_quotes(view.piece.studio):
        passes = sum(
            one.layer.planned_passes
            for one in view.layers
            if is_used_with(material, one.layer.technique)
        )
        times = {
            UsedPer.PASS_AREA: area * passes,
            UsedPer.FUSE_AREA: area,
            UsedPer.ENAMEL_AREA: area * passes,
            UsedPer.FIRING_AREA: area * (passes + 1),
            UsedPer.PIECE: Decimal(1),
        }
        needs[material] = material.amount_used * times[UsedPer(material.used_per)]
    return needs
