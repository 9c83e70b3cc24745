"""What a calendar feed holds, and which link opens it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, Max
from django.urls import reverse

from firing.models import Booking, CalendarLink, FeedKind, PlannedWork, PlanState
from studio.keyed_tokens import nonce_in, token_with
from studio.models import (
    Closure,
    DaysAway,
    HistoryEntry,
    Membership,
    Person,
    Piece,
    Studio,
)
from studio.tenancy import StudioQuerySet

KEY_SALT = "firing.calendar link"
# What is over, or was cancelled, stays in the feed for so long.
PAST = timedelta(days=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One event of a feed. Days are without a time, their end after the last one."""

    key: str
    title: str
    starts: datetime | date
    ends: datetime | date
    path: str
    changed_at: datetime
    sequence: int = 0
    place: str = ""
    note: str = ""
    is_cancelled: bool = False
    is_provisional: bool = False
    blocks: bool = True
    """Whether it takes the time of whoever's calendar it is in."""


def links_of(studio: Studio, person: Person) -> StudioQuerySet[CalendarLink]:
    """Return a person's links that open, newest first."""
    return (
        CalendarLink.owned.for_studio(studio)
        .filter(person=person, revoked_at__isnull=True)
        .select_related("kiln", "studio")
    )


def token_of(link: CalendarLink) -> str:
    """Return what goes into the address of a feed."""
    return token_with(link.nonce, salt=KEY_SALT)


def find_link(token: str) -> CalendarLink | None:
    """Return the link of a token while it opens: its person must belong here still."""
    nonce = nonce_in(token, salt=KEY_SALT)
    if nonce is None:
        return None
    found: CalendarLink | None = (
        CalendarLink.across_studios.filter(nonce=nonce, revoked_at__isnull=True)
        .select_related("kiln", "studio", "person")
        .first()
    )
    if found is None:
        return None
    belongs = Membership.owned.for_studio(found.studio).filter(
        person=found.person, is_active=True
    )
    return found if belongs.exists() else None


def entries_of(link: CalendarLink, *, now: datetime) -> list[Entry]:
    """Return what a feed holds, in order of time: the same while nothing changes."""
    studio, since = link.studio, now - PAST
    found: list[Entry] = []
    if link.kind != FeedKind.PERSON:
        bookings = Booking.owned.for_studio(studio).filter(ends_at__gt=since)
        closures = Closure.owned.for_studio(studio).filter(ends_at__gt=since)
        if link.kiln is not None:
            bookings = bookings.filter(kiln=link.kiln)
            closures = closures.filter(kiln=link.kiln)
        found += _bookings(bookings.select_related("kiln"), studio, since)
        found += [_closure(one, link) for one in closures.select_related("kiln")]
    if link.kind != FeedKind.KILN:
        pieces = Piece.owned.for_studio(studio).filter(due_date__gte=since.date())
        away = DaysAway.owned.for_studio(studio).filter(ends_date__gte=since.date())
        if link.kind == FeedKind.PERSON:
            pieces = pieces.filter(maker=link.person)
            away = away.filter(membership__person=link.person)
            found += _work(studio, link.person, since)
        found += _deadlines(pieces, studio)
        found += [_away(one, link) for one in away.select_related("membership__person")]
    return sorted(found, key=lambda one: (_day(one.starts), one.key))


def _day(at: datetime | date) -> str:
    return at.isoformat()


def _bookings(
    bookings: Iterable[Booking], studio: Studio, since: datetime
) -> list[Entry]:
    rows = [
        one for one in bookings if one.cancelled_at is None or one.cancelled_at > since
    ]
    changes = _changes(studio, [f"booking {one.pk}" for one in rows])
    return [_booking(one, *changes.get(f"booking {one.pk}", (0, None))) for one in rows]


def _changes(
    studio: Studio, subjects: list[str]
) -> dict[str, tuple[int, datetime | None]]:
    """Return how often each thing was changed by its history, and when last."""
    rows = (
        HistoryEntry.owned.for_studio(studio)
        .filter(subject__in=subjects)
        .order_by()
        .values_list("subject")
        .annotate(Count("pk"), Max("at"))
    )
    return {subject: (count, at) for subject, count, at in rows}


def _booking(one: Booking, changes: int, changed_at: datetime | None) -> Entry:
    moments = [at for at in (one.booked_at, one.cancelled_at, changed_at) if at]
    return Entry(
        key=f"booking-{one.pk}",
        title=one.title,
        starts=one.starts_at,
        ends=one.ends_at,
        path=reverse("firing:booking_detail", args=[one.pk]),
        changed_at=max(moments),
        # Being cancelled is a change too, whoever wrote it down.
        sequence=changes + (one.cancelled_at is not None),
        place=str(one.kiln),
        note=one.cancelled_reason,
        is_cancelled=one.cancelled_at is not None,
        is_provisional=one.is_provisional,
    )


def _closure(one: Closure, link: CalendarLink) -> Entry:
    whose = str(one.kiln) if one.kiln is not None else "Studio"
    return Entry(
        key=f"closure-{one.pk}",
        title=f"{whose} closed: {one.reason}",
        starts=one.starts_at,
        ends=one.ends_at,
        path=reverse("studio:settings"),
        changed_at=link.made_at,
        place=whose,
    )


def _deadlines(pieces: Iterable[Piece], studio: Studio) -> list[Entry]:
    rows = list(pieces)
    changes = {
        pk: (count, at)
        for pk, count, at in HistoryEntry.owned.for_studio(studio)
        .filter(piece__in=rows)
        .order_by()
        .values_list("piece")
        .annotate(Count("pk"), Max("at"))
    }
    return [
        _deadline(piece, *changes.get(piece.pk, (0, piece.created_at)))
        for piece in rows
    ]


def _deadline(piece: Piece, changes: int, changed_at: datetime) -> Entry:
    day = piece.due_date or date.min
    return Entry(
        key=f"deadline-{piece.pk}",
        title=f"{piece.title} is promised",
        starts=day,
        ends=day + timedelta(days=1),
        path=reverse("studio:piece_detail", args=[piece.pk]),
        changed_at=max(changed_at, piece.created_at),
        sequence=changes,
        blocks=False,
    )


def _away(one: DaysAway, link: CalendarLink) -> Entry:
    return Entry(
        key=f"away-{one.pk}",
        title=f"{one.membership.person} is away",
        starts=one.starts_date,
        ends=one.ends_date + timedelta(days=1),
        path=reverse("studio:settings"),
        changed_at=link.made_at,
        blocks=link.kind == FeedKind.PERSON,
    )


def _work(studio: Studio, person: Person, since: datetime) -> list[Entry]:
    """Return a person's work by the plan that stands."""
    rows = PlannedWork.owned.for_studio(studio).filter(
        person=person, plan__state=PlanState.ACCEPTED, ends_at__gt=since
    )
    return [
        Entry(
            # The same work keeps its name when the plan is made anew.
            key=f"work-{one.piece_id}-{one.task}-{one.layer_id}-{one.attempt}-"
            f"{one.number}",
            title=f"{one.get_task_display()}: {one.piece.title}",
            starts=one.starts_at,
            ends=one.ends_at,
            path=reverse("studio:piece_detail", args=[one.piece_id]),
            changed_at=one.plan.closed_at or one.plan.asked_at,
            # Plans follow one another, and each says anew when the work is done.
            sequence=one.plan.number,
        )
        for one in rows.select_related("piece", "plan")
    ]
