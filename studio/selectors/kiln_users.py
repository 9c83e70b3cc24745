"""Reads of the makers who share the studio's kilns."""

from studio.models import KilnUser, Studio
from studio.tenancy import StudioQuerySet


def kiln_users(studio: Studio) -> StudioQuerySet[KilnUser]:
    """Return the makers who share the kilns, by name; those who left come last."""
    return (
        KilnUser.owned.for_studio(studio)
        .select_related("person")
        .order_by("is_retired", "name", "pk")
    )
