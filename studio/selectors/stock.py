"""Reads of what the studio keeps in stock: sheet glass and materials."""

from studio.models import Glass, Material, MaterialKind, Studio
from studio.tenancy import StudioQuerySet


def glasses(studio: Studio) -> StudioQuerySet[Glass]:
    """Return the studio's glasses; those no longer bought come last."""
    return Glass.owned.for_studio(studio).order_by("is_retired", "name", "pk")


def glasses_in_use(studio: Studio) -> StudioQuerySet[Glass]:
    """Return the glasses for new pieces."""
    return glasses(studio).filter(is_retired=False)


def materials(studio: Studio) -> StudioQuerySet[Material]:
    """Return the studio's materials by kind; those no longer bought come last."""
    return Material.owned.for_studio(studio).order_by(
        "is_retired", "kind", "name", "pk"
    )


def paints(studio: Studio) -> StudioQuerySet[Material]:
    """Return what a pass can be painted with: enamels and decals."""
    return materials(studio).filter(
        is_retired=False, kind__in=[MaterialKind.ENAMEL, MaterialKind.DECAL]
    )
