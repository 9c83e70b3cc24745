"""Reads of kilns, access hours and closures."""

from datetime import datetime

from studio.models import AccessHours, Closure, Kiln, Studio
from studio.tenancy import StudioQuerySet


def kilns(studio: Studio) -> StudioQuerySet[Kiln]:
    """Return the studio's kilns; those out of use come last."""
    return Kiln.owned.for_studio(studio).order_by("is_retired", "name", "pk")


def access_hours(studio: Studio) -> StudioQuerySet[AccessHours]:
    """Return when kilns may be loaded, Monday first."""
    return AccessHours.owned.for_studio(studio).order_by("weekday", "opens", "pk")


def closures(studio: Studio) -> StudioQuerySet[Closure]:
    """Return every closure, the next one first."""
    return (
        Closure.owned.for_studio(studio)
        .select_related("kiln")
        .order_by("starts_at", "pk")
    )


def closures_to_come(studio: Studio, now: datetime) -> StudioQuerySet[Closure]:
    """Return the closures that are not over yet."""
    return closures(studio).filter(ends_at__gt=now)
