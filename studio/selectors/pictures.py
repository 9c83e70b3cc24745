"""Reads of photographs."""

from collections.abc import Iterable

from django.urls import reverse

from studio.models import Picture, Piece, Studio
from studio.tenancy import StudioQuerySet


def pictures(studio: Studio) -> StudioQuerySet[Picture]:
    """Return the studio's pictures, newest first."""
    return (
        Picture.owned.for_studio(studio)
        .select_related("piece", "layer__piece", "of_pass", "by")
        .order_by("-at", "-pk")
    )


def looks_of_layers(studio: Studio, layers: Iterable[int]) -> dict[int, str]:
    """Return the address of the newest picture of each layer that has one."""
    found = Picture.owned.for_studio(studio).filter(layer__in=set(layers))
    pairs = found.order_by("at", "pk").values_list("layer_id", "pk")
    return {
        layer: reverse("studio:picture", args=[pk, "small"])
        for layer, pk in dict(pairs).items()
    }


def depth_pictures_of(piece: Piece) -> list[Picture]:
    """Return the newest picture of each layer in a piece's stack, from the back."""
    found = (
        Picture.owned.for_studio(piece.studio)
        .filter(layer__piece=piece, layer__taken_out_at__isnull=True)
        .select_related("layer")
    )
    newest = {one.layer_id: one for one in found.order_by("at", "pk")}
    return sorted(newest.values(), key=lambda one: one.layer.number if one.layer else 0)


def looks_of_pieces(studio: Studio, pieces: Iterable[int]) -> dict[int, str]:
    """Return the address of the picture that each piece is known by, where there is one.

    It is the newest picture of the piece as a whole, else its layers looked through.
    """
    asked = set(pieces)
    faces = Piece.owned.for_studio(studio).filter(pk__in=asked).exclude(face="")
    whole = Picture.owned.for_studio(studio).filter(
        # Between polarisers a piece is dark.
        piece__in=asked,
        layer=None,
        seen_in=None,
    )
    found = {
        pk: reverse("studio:piece_face", args=[pk])
        for pk in faces.order_by("pk").values_list("pk", flat=True)
    }
    for picture in whole.order_by("at", "pk"):
        if picture.piece_id is not None:
            address = reverse("studio:picture", args=[picture.pk, "small"])
            found[picture.piece_id] = address
    return found
