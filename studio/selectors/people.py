"""Reads of people and their memberships."""

from studio.models import Membership, Person, Studio
from studio.tenancy import StudioQuerySet


def memberships_of(person: Person) -> StudioQuerySet:
    """Return a person's active memberships, in every studio they belong to."""
    return (
        Membership.across_studios.filter(person=person, is_active=True)
        .select_related("studio", "person")
        .order_by("studio__name", "pk")
    )


def membership_of(person: Person, studio_id: int | None) -> Membership | None:
    """Return the membership in the chosen studio, else the first one, else none."""
    found = list(memberships_of(person))
    chosen = [m for m in found if m.studio_id == studio_id]
    return (chosen or found or [None])[0]


def members(studio: Studio) -> StudioQuerySet:
    """Return everybody who belongs to the studio, by name."""
    return (
        Membership.owned.for_studio(studio)
        .select_related("person")
        .order_by("-is_active", "person__name", "pk")
    )
