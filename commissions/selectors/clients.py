"""Reads clients."""

from django.db.models import Count, Q

from commissions.models import Client
from studio.models import Studio
from studio.tenancy import StudioQuerySet


def clients(studio: Studio) -> StudioQuerySet[Client]:
    """Return the studio's clients by name, each with its count of open commissions."""
    is_open = Q(commissions__closed_at__isnull=True)
    return (
        Client.owned.for_studio(studio)
        .annotate(
            commission_count=Count("commissions"),
            open_count=Count("commissions", filter=is_open),
        )
        .order_by("name", "pk")
    )


def client_named(studio: Studio, *, name: str, email: str) -> Client | None:
    """Return the client meant by a name, and by an address if there is one."""
    same: StudioQuerySet[Client] = Client.owned.for_studio(studio).filter(
        name__iexact=name
    )
    if email:
        same = same.filter(email__iexact=email)
    found: Client | None = same.order_by("pk").first()
    return found
