"""Reads of kiln time: what is booked, what is free, and when somebody may load."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.db.models import Q

from firing.kiln_time.selectors.access import access_spans, closures_of
from firing.models import Booking
from firing.planning.problem import practice
from firing.planning.spans.free_time import NoRoom, Span, earliest_start, next_attended
from studio.models import Kiln, Piece, Studio
from studio.tenancy import StudioQuerySet

STEP = timedelta(seconds=practice.PROPOSAL_STEP_S)
HORIZON = timedelta(seconds=practice.PROPOSAL_HORIZON_S)


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeSpan:
    """Free time in a kiln; without an end when nothing is booked after it."""

    starts_at: datetime
    ends_at: datetime | None


def bookings(studio: Studio) -> StudioQuerySet[Booking]:
    """Return the studio's bookings with kiln and firing, by time."""
    return (
        Booking.owned.for_studio(studio)
        .select_related("kiln", "firing", "booked_by")
        .order_by("starts_at", "pk")
    )


def standing_bookings(
    studio: Studio, starts_at: datetime, ends_at: datetime
) -> StudioQuerySet[Booking]:
    """Return the bookings that are not cancelled and touch the span."""
    return bookings(studio).filter(
        cancelled_at__isnull=True, starts_at__lt=ends_at, ends_at__gt=starts_at
    )


def coming_bookings(studio: Studio, now: datetime) -> StudioQuerySet[Booking]:
    """Return the standing bookings that have not begun, the next one first."""
    return bookings(studio).filter(cancelled_at__isnull=True, starts_at__gt=now)


def next_booking_of(piece: Piece) -> Booking | None:
    """Return the kiln time booked for a piece now or next, if any."""
    found: Booking | None = (
        bookings(piece.studio)
        .filter(
            cancelled_at__isnull=True,
            firing__cancelled_at__isnull=True,
            firing__finished_at__isnull=True,
            firing__items__piece=piece,
        )
        .order_by("starts_at", "pk")
        .first()
    )
    return found


def taken_spans(kiln: Kiln, starts_at: datetime, ends_at: datetime) -> list[Span]:
    """Return what takes up a kiln within the span: bookings and closures."""
    standing = Booking.owned.for_studio(kiln.studio).filter(
        Q(kiln=kiln, cancelled_at__isnull=True),
        starts_at__lt=ends_at,
        ends_at__gt=starts_at,
    )
    shut = closures_of(kiln, starts_at, ends_at)
    return [
        *(Span(starts_at=one.starts_at, ends_at=one.ends_at) for one in standing),
        *(Span(starts_at=one.starts_at, ends_at=one.ends_at) for one in shut),
    ]


def earliest_free_start(
    *,
    kiln: Kiln,
    lasts_s: float,
    after: datetime,
    attended_s: float = practice.LOAD_SHEETS_S,
) -> datetime:
    """Return the earliest start that leaves a kiln free for the whole span.

    Loading must fall into access hours; the rest runs by itself.

    Raises
    ------
    NoRoom
        When nothing is free within half a year.
    """
    after = after.astimezone(UTC)
    lasts = timedelta(seconds=lasts_s)
    until = after + HORIZON
    return earliest_start(
        after=after,
        lasts=lasts,
        taken=taken_spans(kiln, after, until + lasts),
        access=access_spans(kiln.studio, after, until),
        attended=timedelta(seconds=attended_s),
        step=STEP,
        until=until,
    )


def next_free_span(*, kiln: Kiln, lasts_s: float, after: datetime) -> FreeSpan | None:
    """Return the next free time that fits the whole span, and when it ends.

    It begins while somebody may be in, so that it can be used.
    """
    try:
        starts_at = earliest_free_start(
            kiln=kiln, lasts_s=lasts_s, after=after, attended_s=0
        )
    except NoRoom:
        return None
    later = [
        span.starts_at
        for span in taken_spans(kiln, starts_at, starts_at + 2 * HORIZON)
        if span.starts_at > starts_at
    ]
    return FreeSpan(starts_at=starts_at, ends_at=min(later, default=None))


def may_open_at(studio: Studio, cold_at: datetime) -> datetime:
    """Return when somebody is in to open a kiln that is cold from `cold_at` on."""
    spans = access_spans(studio, cold_at, cold_at + timedelta(days=31))
    return next_attended(cold_at, spans) or cold_at


def is_attended(studio: Studio, starts_at: datetime, lasts_s: float) -> bool:
    """Say whether somebody may be in for the whole of a span."""
    starts_at = starts_at.astimezone(UTC)
    ends_at = starts_at + timedelta(seconds=lasts_s)
    return any(
        span.starts_at <= starts_at and ends_at <= span.ends_at
        for span in access_spans(studio, starts_at, ends_at + timedelta(seconds=1))
    )


def first_proposal(now: datetime) -> datetime:
    """Return the next full hour, as a form's first suggestion."""
    return now.replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
