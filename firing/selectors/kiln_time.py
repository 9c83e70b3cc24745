"""What each kiln is doing, in words, and the ribbon that draws it."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
from django.urls import reverse

from firing.drawings.ribbon import Ribbon, RibbonBooking, RibbonKiln, build_ribbon
from firing.models import Booking, BookingKind, Firing, ReadingImport
from firing.selectors.access import access_spans, closures
from firing.selectors.bookings import standing_bookings
from firing.selectors.firings import running_firings
from studio.models import Closure, Kiln, Studio
from studio.reader import Reader

WINDOW_DAYS = 10
# A cooling of days shows its shape only when its beginning is on the page.
DAYS_BACK = 3
LOOK_AHEAD = timedelta(days=60)
EARLIEST_DAY, LATEST_DAY = date(2000, 1, 1), date(2200, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnState:
    """A kiln with what it is doing now, in words."""

    kiln: Kiln
    words: str
    kind: str
    booking: Booking | None = None
    following: Booking | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A span of whole days in the studio's zone, with the ones before and after."""

    first_day: date
    starts_at: datetime
    ends_at: datetime
    days: int

    @property
    def previous_day(self) -> date:
        return self.first_day - timedelta(days=self.days - 2)

    @property
    def next_day(self) -> date:
        return self.first_day + timedelta(days=self.days - 2)


def window(
    reader: Reader, now: datetime, first_day: date | None, *, days: int = WINDOW_DAYS
) -> Window:
    """Return the days that a ribbon shows; without a first day, some before today."""
    today = now.astimezone(reader.zone).date()
    day = first_day or today - timedelta(days=DAYS_BACK)
    first, last = (
        datetime.combine(one, time(), tzinfo=reader.zone).astimezone(UTC)
        for one in (day, day + timedelta(days=days))
    )
    return Window(first_day=day, starts_at=first, ends_at=last, days=days)


def kiln_states(
    kilns: Sequence[Kiln], *, reader: Reader, now: datetime
) -> list[KilnState]:
    """Say of each kiln whether it is closed, free, or waits for somebody."""
    studio = reader.studio
    by_kiln: dict[int, list[Booking]] = defaultdict(list)
    for booking in standing_bookings(studio, now, now + LOOK_AHEAD):
        by_kiln[booking.kiln_id].append(booking)
    inside = {firing.kiln_id: firing for firing in running_firings(studio)}
    shut = list(closures(studio, now, now + timedelta(seconds=1)))
    return [
        _state(
            kiln,
            by_kiln[kiln.pk],
            inside.get(kiln.pk),
            next((c for c in shut if c.kiln_id in {None, kiln.pk}), None),
            reader,
            now,
        )
        for kiln in kilns
    ]


def _state(
    kiln: Kiln,
    coming: list[Booking],
    inside: Firing | None,
    closure: Closure | None,
    reader: Reader,
    now: datetime,
) -> KilnState:
    current = next((b for b in coming if b.starts_at <= now), None)
    following = next((b for b in coming if b.starts_at > now), None)
    if inside is not None:
        opens_at = inside.booking.opens_at
        if now < opens_at:
            words = (
                f"Closed until {reader.moment(opens_at, now)}, "
                f"{reader.left(opens_at, now)} left"
            )
            kind = "hot"
        else:
            words = f"May be opened since {reader.moment(opens_at, now)}: unload"
            kind = "waiting"
        return KilnState(
            kiln=kiln,
            words=words,
            kind=kind,
            booking=inside.booking,
            following=following,
        )
    if closure is not None:
        words = f"{closure.reason}, until {reader.moment(closure.ends_at, now)}"
        return KilnState(kiln=kiln, words=words, kind="stopped", following=following)
    if current is not None:
        until = reader.moment(current.ends_at, now)
        words, kind = {
            BookingKind.RENTAL: (f"Rented out until {until}", "doing"),
            BookingKind.MAINTENANCE: (f"Maintenance until {until}", "stopped"),
        }.get(
            BookingKind(current.kind),
            (f"To be loaded and started, held until {until}", "waiting"),
        )
        return KilnState(
            kiln=kiln, words=words, kind=kind, booking=current, following=following
        )
    words = "Free"
    if following is not None:
        words = f"Free until {reader.moment(following.starts_at, now)}"
    return KilnState(kiln=kiln, words=words, kind="planned", following=following)


def kiln_ribbon(
    kilns: Sequence[Kiln],
    *,
    states: Sequence[KilnState],
    shown: Window,
    reader: Reader,
    now: datetime,
    key: str,
) -> Ribbon:
    """Draw the kilns' bookings over a window of days."""
    studio = reader.studio
    by_kiln: dict[int, list[RibbonBooking]] = defaultdict(list)
    found = list(standing_bookings(studio, shown.starts_at, shown.ends_at))
    recorded = _recorded(studio, found)
    for booking in found:
        by_kiln[booking.kiln_id].append(_drawn(booking, recorded))
    for closure in closures(studio, shown.starts_at, shown.ends_at):
        span = RibbonBooking(
            title=f"Closed: {closure.reason}",
            short=closure.reason,
            href="",
            starts_at=closure.starts_at,
            ends_at=closure.ends_at,
            is_span=True,
        )
        for kiln in kilns:
            if closure.kiln_id in {None, kiln.pk}:
                by_kiln[kiln.pk].append(span)
    access = tuple(
        (span.starts_at, span.ends_at)
        for span in access_spans(studio, shown.starts_at, shown.ends_at)
    )
    words = {state.kiln.pk: state.words for state in states}
    return build_ribbon(
        [
            RibbonKiln(
                name=kiln.name,
                href=reverse("firing:kiln_detail", args=[kiln.pk]),
                note=words.get(kiln.pk, ""),
                bookings=tuple(by_kiln[kiln.pk]),
                access=access,
            )
            for kiln in kilns
        ],
        key=key,
        starts_at=shown.starts_at,
        ends_at=shown.ends_at,
        now=now,
        zone=reader.zone,
        show_when=lambda at: reader.moment(at, now),
        day_width=120.0,
    )


def _drawn(booking: Booking, recorded: dict[int, Any]) -> RibbonBooking:
    firing: Firing | None = getattr(booking, "firing", None)
    readings = recorded.get(firing.pk, ()) if firing is not None else ()
    is_over = firing is not None and firing.finished_at is not None
    planned = [
        (booking.starts_at + timedelta(seconds=s), celsius)
        for s, celsius in booking.planned_curve
    ]
    if is_over:
        planned = _until(planned, booking.ends_at)
    return RibbonBooking(
        title=booking.title,
        short=booking.title,
        href=booking_href(booking),
        starts_at=booking.starts_at,
        ends_at=booking.ends_at,
        opens_at=None if firing is None or is_over else booking.opens_at,
        planned=tuple(planned),
        recorded=tuple(readings),
        is_provisional=booking.is_provisional,
        is_span=not booking.planned_curve,
    )


def _until(
    curve: list[tuple[datetime, float]], ends_at: datetime
) -> list[tuple[datetime, float]]:
    """Cut a curve where its kiln was given free: what follows never happened."""
    times = [(at - ends_at).total_seconds() for at, _ in curve]
    if not times or times[-1] <= 0:
        return curve
    kept = [point for point, left in zip(curve, times, strict=True) if left < 0]
    return [*kept, (ends_at, float(np.interp(0, times, [c for _, c in curve])))]


def booking_href(booking: Booking) -> str:
    """Return where a booking leads: to its firing, if it has one."""
    firing: Firing | None = getattr(booking, "firing", None)
    if firing is not None:
        return reverse("firing:firing_detail", args=[firing.pk])
    return reverse("firing:booking_detail", args=[booking.pk])


def _recorded(
    studio: Studio, bookings: Sequence[Booking]
) -> dict[int, list[tuple[datetime, float]]]:
    """Return the thin curves of the firings' imports, by firing."""
    firings = [b.firing.pk for b in bookings if getattr(b, "firing", None) is not None]
    curves: dict[int, list[tuple[datetime, float]]] = defaultdict(list)
    imports = (
        ReadingImport.owned.for_studio(studio)
        .filter(firing__in=firings)
        .order_by("first_at", "pk")
    )
    for one in imports:
        curves[one.firing_id] += [
            (one.first_at + timedelta(seconds=s), celsius)
            for s, celsius in one.thin_curve
        ]
    return curves
