"""Reads of people and their memberships."""

from django.db.models import QuerySet

from studio.models import Membership, Person, Studio
from studio.tenancy import StudioQuerySet


def memberships_of(person: Person) -> StudioQuerySet[Membership]:
    """Return a person's active memberships, in the order in which they joined."""
    return (
        Membership.across_studios.filter(person=person, is_active=True)
        .select_related("studio", "person")
        .order_by("pk")
    )


def membership_of(person: Person, studio_id: int | None) -> Membership | None:
    """Return the membership in the chosen studio, else at home, else none."""
    found = list(memberships_of(person))
    chosen = [one for one in found if one.studio_id == studio_id]
    return chosen[0] if chosen else home_of(person, found)


def home_of(person: Person, memberships: list[Membership]) -> Membership | None:
    """Return which of a person's memberships opens when they sign in.

    It is the one they chose, else the first they joined.
    """
    chosen = [one for one in memberships if one.studio_id == person.home_id]
    return next(iter(chosen or memberships), None)


def members(studio: Studio) -> StudioQuerySet[Membership]:
    """Return everybody who belongs to the studio, by name."""
    return (
        Membership.owned.for_studio(studio)
        .select_related("person")
        .order_by("-is_active", "person__name", "pk")
    )


def people_of(studio: Studio) -> QuerySet[Person]:
    """Return the people who may sign in to the studio, by name."""
    ids = (
        Membership.owned.for_studio(studio)
        .filter(is_active=True)
        .values_list("person_id", flat=True)
    )
    return Person.objects.filter(pk__in=ids).order_by("name", "pk")


def person_who_may_sign_in(pk: int) -> Person | None:
    """Return a person whose account is open."""
    return Person.objects.filter(pk=pk, is_active=True).first()


def has_demo() -> bool:
    """Return whether this database has the demo, for the sign-in page."""
    return Studio.objects.filter(is_demo=True).exists()
