"""Reads of photographs."""

from studio.models import Picture, Studio
from studio.tenancy import StudioQuerySet


def pictures(studio: Studio) -> StudioQuerySet[Picture]:
    """Return the studio's pictures, newest first."""
    return (
        Picture.owned.for_studio(studio)
        .select_related("piece", "layer__piece", "of_pass", "by")
        .order_by("-at", "-pk")
    )
