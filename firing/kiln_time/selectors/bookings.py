"""Reads of kiln time: what is booked, what is free, and when somebody may load."""

from datetime import UTC, datetime, timedelta

from django.db.models import Q

from firing.kiln_time.selectors.access import access_spans
from firing.models import Booking, Firing
from firing.planning.problem import practice
from firing.planning.spans.free_time import next_attended
from studio.models import Piece, Studio
from studio.tenancy import StudioQuerySet

STEP = timedelta(seconds=practice.PROPOSAL_STEP_S)
HORIZON = timedelta(seconds=practice.PROPOSAL_HORIZON_S)


def bookings(studio: Studio) -> StudioQuerySet[Booking]:
    """Return the studio's bookings with kiln and firing, by time."""
    return (
        Booking.owned.for_studio(studio)
        .select_related("firing", "booked_by")
        # Each kiln once, not once for each of hundreds of bookings.
        .prefetch_related("kiln")
        .order_by("starts_at", "pk")
    )


def standing_bookings(
    studio: Studio, starts_at: datetime, ends_at: datetime
) -> StudioQuerySet[Booking]:
    """Return the bookings that are not cancelled and touch the span."""
    return bookings(studio).filter(
        cancelled_at__isnull=True, starts_at__lt=ends_at, ends_at__gt=starts_at
    )


def unfinished_bookings(studio: Studio, now: datetime) -> StudioQuerySet[Booking]:
    """Return the standing bookings that are not over, or whose kiln is not emptied."""
    inside = Firing.owned.for_studio(studio).filter(
        started_at__isnull=False, finished_at__isnull=True
    )
    return bookings(studio).filter(
        Q(ends_at__gt=now) | Q(pk__in=inside.values("booking")),
        cancelled_at__isnull=True,
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
