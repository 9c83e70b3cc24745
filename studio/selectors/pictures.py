"""Reads of photographs."""

from collections.abc import Iterable

from studio.models import Picture, Studio
from studio.tenancy import StudioQuerySet


def pictures(studio: Studio) -> StudioQuerySet[Picture]:
    """Return the studio's pictures, newest first."""
    return (
        Picture.owned.for_studio(studio)
        .select_related("piece", "layer__piece", "of_pass", "by")
        .order_by("-at", "-pk")
    )


def newest_of_layers(studio: Studio, layers: Iterable[int]) -> dict[int, Picture]:
    """Return the newest picture of each of these layers that has one, by the layers."""
    found = Picture.owned.for_studio(studio).filter(layer__in=set(layers))
    return {one.layer_id: one for one in found.order_by("at", "pk") if one.layer_id}


def newest_of_pieces(studio: Studio, pieces: Iterable[int]) -> dict[int, Picture]:
    """Return a picture of each of these pieces that has one, by the pieces.

    It is the newest of the piece as a whole, else the newest of any of its layers.
    """
    found = Picture.owned.for_studio(studio).filter(piece__in=set(pieces))
    ordered = sorted(found.order_by("at", "pk"), key=lambda one: one.layer_id is None)
    return {one.piece_id: one for one in ordered if one.piece_id}
