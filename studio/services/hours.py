"""Sets the hours in which kilns may be loaded."""

from collections.abc import Sequence
from datetime import datetime, time

from django.db import transaction

from studio.errors import Refused
from studio.models import AccessHours, Person, Studio
from studio.services import history
from studio.services.locks import held


@transaction.atomic
def add_access_hours(
    *,
    studio: Studio,
    weekdays: Sequence[int],
    opens: time,
    closes: time,
    by: Person | None,
    at: datetime,
) -> list[AccessHours]:
    """Add the same span to several weekdays.

    Raises
    ------
    Refused
        When it ends before it starts or overlaps with hours of that day; then no day
        gets any.
    """
    if closes <= opens:
        raise Refused(
            "It must end after it starts. For a night, add two spans: one up to 23:59 "
            "and one from 00:00 on the next day."
        )
    # One at a time in a studio: two spans added at once must see each other.
    held(Studio.objects).get(pk=studio.pk)
    there = AccessHours.owned.for_studio(studio).filter(
        weekday__in=weekdays, opens__lt=closes, closes__gt=opens
    )
    if overlaps := ", ".join(map(str, there.order_by("weekday", "opens", "pk"))):
        raise Refused(f"Overlaps with {overlaps}. Remove that first.")
    made = [
        AccessHours.across_studios.create(
            studio=studio, weekday=weekday, opens=opens, closes=closes
        )
        for weekday in sorted(set(weekdays))
    ]
    history.record(
        studio=studio,
        by=by,
        at=at,
        what="Added access hours: " + ", ".join(map(str, made)),
    )
    return made
