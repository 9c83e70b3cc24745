"""Cuts a sheet for a layer and adds its planned passes."""

from datetime import datetime

from studio.models import Layer, Pass, Sheet


def cut_sheet(*, layer: Layer, attempt: int, at: datetime) -> Sheet:
    """Make the layer's next sheet with its planned passes."""
    sheet = Sheet.across_studios.create(
        studio_id=layer.studio_id, layer=layer, attempt=attempt, made_at=at
    )
    Pass.across_studios.bulk_create(
        Pass(studio_id=layer.studio_id, sheet=sheet, number=number)
        for number in range(1, layer.planned_passes + 1)
    )
    return sheet
