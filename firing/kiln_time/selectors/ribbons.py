"""The ribbon of the kilns: which days, whose bookings, and what is drawn of them."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
from django.urls import reverse

from firing.drawings.ribbon import (
    PLOT_HEIGHT,
    Ribbon,
    RibbonBooking,
    RibbonKiln,
    build_ribbon,
)
from firing.kiln_time.selectors.access import access_spans, closures
from firing.kiln_time.selectors.bookings import standing_bookings
from firing.kiln_time.selectors.kiln_time import KilnState, booking_href
from firing.loads.selectors.known import Known
from firing.models import Booking, Firing, ReadingImport
from firing.schedules.selectors.stress_words import next_quarter
from studio.models import Kiln, Studio
from studio.viewer import Viewer

# How many pixels a page has room for, on a desk and in the hand.
WIDE, NARROW = 1196.0, 356.0
EARLIEST_DAY, LATEST_DAY = date(2000, 1, 1), date(2200, 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A length of time to look at; when it shows now, `back` days of it are past."""

    key: str
    words: str
    days: int
    back: int
    step: int


# A cooling of several days is only clear when its beginning is on the page.
RANGES = (
    Range(key="week", words="7 days", days=7, back=2, step=5),
    Range(key="month", words="4 weeks", days=28, back=7, step=21),
    Range(key="quarter", words="3 months", days=91, back=7, step=63),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A span of whole days in the studio's zone."""

    range: Range
    first_day: date
    starts_at: datetime
    ends_at: datetime

    @property
    def previous_day(self) -> date:
        return self.first_day - timedelta(days=self.range.step)

    @property
    def next_day(self) -> date:
        return self.first_day + timedelta(days=self.range.step)

    def words(self, today: date) -> str:
        """Name the days: "23 to 29 Nov", with the year if it is not this one."""
        first = self.first_day
        last = first + timedelta(days=self.range.days - 1)
        year = "" if first.year == last.year == today.year else " %Y"
        if (first.year, first.month) == (last.year, last.month):
            return f"{first.day} to {last:%-d %b{year}}"
        return f"{first:%-d %b{year}} to {last:%-d %b{year}}"


def range_of(key: str) -> Range:
    """Return the range of that name, the shortest for any other word."""
    return next((one for one in RANGES if one.key == key), RANGES[0])


def window(
    viewer: Viewer, now: datetime, first_day: date | None, *, shown: Range = RANGES[0]
) -> Window:
    """Return the days that a ribbon shows; without a first day, some before today."""
    today = now.astimezone(viewer.zone).date()
    day = first_day or today - timedelta(days=shown.back)
    first, last = (
        datetime.combine(one, time(), tzinfo=viewer.zone).astimezone(UTC)
        for one in (day, day + timedelta(days=shown.days))
    )
    return Window(range=shown, first_day=day, starts_at=first, ends_at=last)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Notes on bookings beside their times, by their keys.

    `wanted` are those that a filter selects; none when nothing is filtered.
    """

    notes: Mapping[int, Sequence[str]] = field(default_factory=dict)
    flags: Mapping[int, str] = field(default_factory=dict)
    movable: frozenset[int] = frozenset()
    wanted: frozenset[int] | None = None
    names: Mapping[int, str] = field(default_factory=dict)
    pictures: Mapping[int, Sequence[str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribbons:
    """The same rows drawn for a desk and for a phone."""

    wide: Ribbon
    narrow: Ribbon


def kiln_ribbons(
    kilns: Sequence[Kiln],
    *,
    bookings: Sequence[Booking],
    marks: Marks,
    states: Sequence[KilnState],
    shown: Window,
    viewer: Viewer,
    now: datetime,
    key: str,
    plot_height: float = PLOT_HEIGHT,
) -> Ribbons:
    """Draw the kilns' bookings over a window of days."""
    rows = _rows(
        kilns, bookings=bookings, marks=marks, states=states, shown=shown, viewer=viewer
    )
    days = shown.range.days

    def drawn(width: float, name: str) -> Ribbon:
        return build_ribbon(
            rows,
            key=f"{key}-{name}",
            starts_at=shown.starts_at,
            ends_at=shown.ends_at,
            now=now,
            zone=viewer.zone,
            show_when=lambda at: viewer.moment(at, now),
            show_heat=viewer.temperature,
            day_width=width / days,
            plot_height=plot_height,
        )

    return Ribbons(wide=drawn(WIDE, "wide"), narrow=drawn(NARROW, "narrow"))


def bookings_shown(viewer: Viewer, shown: Window) -> list[Booking]:
    """Return the bookings that a window shows, with everything their words need."""
    found = standing_bookings(viewer.studio, shown.starts_at, shown.ends_at)
    return list(found.select_related("planned_firing"))


def _rows(
    kilns: Sequence[Kiln],
    *,
    bookings: Sequence[Booking],
    marks: Marks,
    states: Sequence[KilnState],
    shown: Window,
    viewer: Viewer,
) -> list[RibbonKiln]:
    studio = viewer.studio
    by_kiln: dict[int, list[RibbonBooking]] = defaultdict(list)
    recorded = _recorded(studio, bookings)
    known = {one.booking.pk: one.known for one in states if one.booking is not None}
    for booking in bookings:
        by_kiln[booking.kiln_id].append(
            _drawn(booking, recorded, marks, known.get(booking.pk))
        )
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
    return [
        RibbonKiln(
            name=kiln.name,
            key=str(kiln.pk),
            href=reverse("firing:kiln_detail", args=[kiln.pk]),
            note=words.get(kiln.pk, ""),
            bookings=tuple(by_kiln[kiln.pk]),
            access=access,
        )
        for kiln in kilns
    ]


def _drawn(
    booking: Booking,
    recorded: Mapping[int, Sequence[tuple[datetime, float]]],
    marks: Marks,
    known: Known | None = None,
) -> RibbonBooking:
    firing: Firing | None = getattr(booking, "firing", None)
    readings = recorded.get(firing.pk, ()) if firing is not None else ()
    is_over = firing is not None and firing.finished_at is not None
    planned = [
        (booking.starts_at + timedelta(seconds=s), celsius)
        for s, celsius in booking.planned_curve
    ]
    if is_over:
        planned = _until(planned, booking.ends_at)
    opens_at = None if is_over or not planned else booking.opens_at
    if known is not None:
        opens_at = None if known.is_due else known.opens_at
    is_other = marks.wanted is not None and booking.pk not in marks.wanted
    title = marks.names.get(booking.pk, booking.title)
    # The curve tells the kind; the little room is for what is in it.
    inside = title.partition(": ")[2] if booking.pk in marks.names else ""
    return RibbonBooking(
        title=title,
        short=inside or title,
        href=booking_href(booking),
        starts_at=booking.starts_at,
        ends_at=booking.ends_at,
        opens_at=next_quarter(opens_at) if opens_at else None,
        planned=tuple(planned),
        recorded=tuple(readings),
        is_provisional=booking.is_provisional,
        is_span=not booking.planned_curve,
        notes=tuple(marks.notes.get(booking.pk, ())),
        flag="" if is_other else marks.flags.get(booking.pk, ""),
        is_other=is_other,
        pictures=tuple(marks.pictures.get(booking.pk, ())),
        move_url=reverse("firing:booking_place", args=[booking.pk])
        if booking.pk in marks.movable
        else "",
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


def _recorded(
    studio: Studio, bookings: Sequence[Booking]
) -> dict[int, list[tuple[datetime, float]]]:
    """Return the thinned curves of the firings' imports, by firing."""
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
