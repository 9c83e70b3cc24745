"""Makes and takes away links to calendar feeds."""

from datetime import datetime

from django.db import transaction

from firing.models import CalendarLink, FeedKind
from studio.errors import Refused
from studio.keyed_tokens import new_nonce
from studio.models import Kiln, Person, Studio

MOST_LINKS = 10


@transaction.atomic
def make_feed(
    *, studio: Studio, person: Person, kind: str, kiln: Kiln | None, at: datetime
) -> CalendarLink:
    """Make a link for a person's calendar program.

    Raises
    ------
    Refused
        When they have many already.
    """
    standing = CalendarLink.owned.for_studio(studio).filter(
        person=person, revoked_at__isnull=True
    )
    if standing.count() >= MOST_LINKS:
        raise Refused(f"You have {MOST_LINKS} calendar links. Take one away first.")
    made: CalendarLink = CalendarLink.across_studios.create(
        studio=studio,
        person=person,
        kind=kind,
        kiln=kiln if kind == FeedKind.KILN else None,
        nonce=new_nonce(),
        made_at=at,
    )
    return made


def take_feed_away(*, link: CalendarLink, at: datetime) -> None:
    """Let a link open nothing any more."""
    link.revoked_at = at
    link.save(update_fields=["revoked_at"])
