"""The planner's calendar of a studio: slots from a Monday, access hours, closures and
what is in the kilns. `problem` decides which work is planned into it.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Q

from firing.kiln_time.selectors.access import access_spans, closures
from firing.kiln_time.selectors.bookings import unfinished_bookings
from firing.kiln_time.selectors.unloading import Unloading
from firing.loads.selectors.planned import due_loads
from firing.models import Booking
from firing.planning.problem.problem import (
    SLOTS_PER_DAY,
    SLOTS_PER_WEEK,
    FixedFiring,
    Window,
    joined,
)
from firing.planning.spans.free_time import Span
from firing.planning.spans.slots import instant_of, origin_before, slot_from, slot_until
from firing.plans.selectors.ids import booking_id, kiln_id
from studio.models import Closure, Kiln, Studio

# Where a studio is open round the clock, nobody begins before this: an assumption.
MORNING = time(8)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCalendar:
    """Slots of one studio from the Monday before now, and when somebody may be in.

    `access` holds only what is still to come; `hours` are the same spans as instants.
    """

    zone: ZoneInfo
    origin: datetime
    now: datetime
    horizon: int
    hours: tuple[Span, ...]
    access: tuple[Window, ...]

    @property
    def start(self) -> int:
        """Return the first slot in which anything can be done."""
        return slot_from(self.now, self.origin)

    @property
    def weeks(self) -> int:
        return self.horizon // SLOTS_PER_WEEK

    def instant(self, slot: int) -> datetime:
        """Return when a slot begins, in the studio's local time."""
        return instant_of(slot, self.origin, self.zone)

    def date_of(self, day: int) -> date:
        """Return the date of a day of the plan. Its noon is safe from clock changes."""
        return self.instant(day * SLOTS_PER_DAY + SLOTS_PER_DAY // 2).date()

    def day_of(self, when: date) -> int:
        """Return the number of the plan's day with this date."""
        return (when - self.instant(0).date()).days


def calendar_of(studio: Studio, *, now: datetime, weeks: int) -> PlanCalendar:
    """Return the calendar from the Monday before now, this many weeks long."""
    zone = ZoneInfo(studio.time_zone)
    origin = origin_before(now, zone)
    horizon = weeks * SLOTS_PER_WEEK
    hours = access_spans(studio, now, instant_of(horizon, origin, zone))
    windows = []
    for span in hours:
        start = slot_from(max(span.starts_at, now), origin)
        end = min(slot_until(span.ends_at, origin), horizon)
        if start < end:
            windows.append((start, end))
    return PlanCalendar(
        zone=zone,
        origin=origin,
        now=now,
        horizon=horizon,
        hours=hours,
        access=joined(tuple(windows)),
    )


def bench_hours(calendar: PlanCalendar, *, most: int) -> tuple[Window, ...]:
    """Return the access hours of each day from its first slot, up to this many slots."""
    found: list[Window] = []
    windows = iter(calendar.access)
    window = next(windows, None)
    for number in range(-(-calendar.horizon // SLOTS_PER_DAY)):
        day = calendar.date_of(number)
        dawn, night = (
            slot_from(datetime.combine(one, at, tzinfo=calendar.zone), calendar.origin)
            for one, at in ((day, MORNING), (day + timedelta(days=1), time()))
        )
        left = most
        while window is not None and window[0] < night:
            start, end = window[0], min(window[1], night)
            if start < dawn < end:
                start = dawn
            if left and start < end:
                end = min(end, start + left)
                left -= end - start
                found.append((start, end))
            if window[1] > night:
                window = (night, window[1])
                break
            window = next(windows, None)
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingFirings:
    """What is in the kilns: spans that do not move, and when each booking ends."""

    fixed: tuple[FixedFiring, ...]
    closed: Mapping[int, tuple[Window, ...]]
    end_of_booking: Mapping[int, int]


def standing_in(
    studio: Studio, kilns: Sequence[Kiln], calendar: PlanCalendar
) -> StandingFirings:
    """Return bookings and closures as the planner's fixed firings and maintenance.

    Slots are rounded outward. Where two of a kiln then overlap by part of a slot, the
    overlap is cut. A closure of the whole studio shuts every kiln, as it does for
    bookings.
    """
    spans: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    ends = {}
    unloading = Unloading(studio, calendar.now)
    for booking in _standing_bookings(studio, calendar.now):
        start = max(0, slot_until(booking.starts_at, calendar.origin))
        end = slot_from(unloading.free_at(booking), calendar.origin)
        ends[booking.pk] = end
        spans[booking.kiln_id].append((start, end, booking.pk))
    until = calendar.instant(calendar.horizon)
    shut = list(closures(studio, calendar.now, until))
    fixed: list[FixedFiring] = []
    closed = {}
    for kiln in kilns:
        own = _apart(kiln, spans[kiln.pk], calendar.horizon)
        fixed += own
        closed[kiln.pk] = _closed(kiln, shut, own, calendar)
    return StandingFirings(fixed=tuple(fixed), closed=closed, end_of_booking=ends)


def _standing_bookings(studio: Studio, now: datetime) -> list[Booking]:
    """Return bookings that are not over, and those whose firing was never unloaded.

    Those of planned firings that may move are left out.
    """
    return list(
        unfinished_bookings(studio, now).exclude(
            ~Q(planned_firing__in=due_loads(studio, now)),
            is_provisional=True,
            planned_firing__isnull=False,
        )
    )


def _apart(
    kiln: Kiln, spans: list[tuple[int, int, int]], horizon: int
) -> list[FixedFiring]:
    found: list[FixedFiring] = []
    free_from = 0
    for start, end, number in sorted(spans):
        start, end = max(start, free_from), min(end, horizon)
        if start < end:
            found.append(
                FixedFiring(
                    id=booking_id(number), kiln=kiln_id(kiln.pk), start=start, end=end
                )
            )
            free_from = end
    return found


def _closed(
    kiln: Kiln,
    shut: Sequence[Closure],
    fixed: Sequence[FixedFiring],
    calendar: PlanCalendar,
) -> tuple[Window, ...]:
    """Return the kiln's closures where nothing is in it already."""
    left: list[Window] = []
    for closure in shut:
        if closure.kiln_id in {None, kiln.pk}:
            start = max(0, slot_until(closure.starts_at, calendar.origin))
            end = min(slot_from(closure.ends_at, calendar.origin), calendar.horizon)
            left.append((start, end))
    for one in fixed:
        left = [
            part
            for start, end in left
            for part in ((start, min(end, one.start)), (max(start, one.end), end))
            if part[0] < part[1]
        ]
    return joined(tuple(part for part in left if part[0] < part[1]))
