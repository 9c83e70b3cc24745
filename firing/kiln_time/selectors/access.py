"""When somebody may be in: access hours and closures as spans of time."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Q

from firing.planning.spans.free_time import Span, merged, without
from studio.models import AccessHours, Closure, Kiln, Studio
from studio.tenancy import StudioQuerySet


def closures(
    studio: Studio, starts_at: datetime, ends_at: datetime
) -> StudioQuerySet[Closure]:
    """Return the closures of the studio and of its kilns that touch the span."""
    return (
        Closure.owned.for_studio(studio)
        .filter(starts_at__lt=ends_at, ends_at__gt=starts_at)
        .select_related("kiln")
        .order_by("starts_at", "pk")
    )


def closures_of(
    kiln: Kiln, starts_at: datetime, ends_at: datetime
) -> StudioQuerySet[Closure]:
    """Return the closures that keep this kiln shut within the span."""
    whole_or_own = Q(kiln__isnull=True) | Q(kiln=kiln)
    return closures(kiln.studio, starts_at, ends_at).filter(whole_or_own)


def access_spans(
    studio: Studio, starts_at: datetime, ends_at: datetime
) -> tuple[Span, ...]:
    """Return when somebody may be in; a studio without set hours is always open.

    In UTC: Python compares spans in one local zone by the wall clock.
    """
    starts_at, ends_at = starts_at.astimezone(UTC), ends_at.astimezone(UTC)
    hours = list(
        AccessHours.owned.for_studio(studio).order_by("weekday", "opens", "pk")
    )
    zone = ZoneInfo(studio.time_zone)
    if hours:
        open_spans = _weekly(hours, zone, starts_at, ends_at)
    else:
        open_spans = [Span(starts_at=starts_at, ends_at=ends_at)]
    shut = [
        Span(starts_at=c.starts_at, ends_at=c.ends_at)
        for c in closures(studio, starts_at, ends_at).filter(kiln__isnull=True)
    ]
    return without(open_spans, shut)


def _weekly(
    hours: list[AccessHours], zone: ZoneInfo, starts_at: datetime, ends_at: datetime
) -> list[Span]:
    spans = []
    day = starts_at.astimezone(zone).date()
    last = ends_at.astimezone(zone).date()
    while day <= last:
        for one in hours:
            if one.weekday == day.weekday():
                opens = datetime.combine(day, one.opens, tzinfo=zone)
                closes = datetime.combine(day, one.closes, tzinfo=zone)
                if one.closes >= time(23, 59):
                    # The form's last minute means midnight, so that nights are not cut
                    # in two.
                    midnight = day + timedelta(days=1)
                    closes = datetime.combine(midnight, time(), tzinfo=zone)
                spans.append(
                    Span(
                        starts_at=opens.astimezone(UTC), ends_at=closes.astimezone(UTC)
                    )
                )
        day += timedelta(days=1)
    return [s for s in merged(spans) if s.ends_at > starts_at and s.starts_at < ends_at]
