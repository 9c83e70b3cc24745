"""Reads of where a person is signed in."""

from datetime import datetime

from django.db.models import QuerySet

from studio.models import Person, SignedIn


def devices_of(person: Person, *, now: datetime) -> QuerySet[SignedIn]:
    """Return where a person is signed in, the last used first."""
    return SignedIn.objects.filter(
        person=person, session__expire_date__gt=now
    ).order_by("-used_at", "-pk")
