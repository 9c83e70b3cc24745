"""A week at the kilns, day by day: what to load, when to open, what to unload."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from firing.kiln_time.selectors.access import access_spans, closures
from firing.kiln_time.selectors.booking_loads import EMPTY, BookingLoad, booking_loads
from firing.kiln_time.selectors.bookings import standing_bookings
from firing.kiln_time.selectors.other_kiln import load_s
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking, BookingKind
from firing.schedules.selectors.fits import kilns
from studio.models import Closure, Kiln
from studio.viewer import Viewer

DAYS = 7
UNLOADED_WITHIN = timedelta(days=7)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekLine:
    """One thing to do or know at a kiln on a day; `clock` is empty for all day."""

    clock: str
    what: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekDay:
    """A day's name and when somebody is in."""

    name: str
    hours: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekKiln:
    """One kiln with the lines of each day."""

    name: str
    days: tuple[tuple[WeekLine, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """All kilns over seven days from a Monday, with every text written out."""

    first_day: date
    days: tuple[WeekDay, ...]
    kilns: tuple[WeekKiln, ...]


def monday_of(day: date) -> date:
    """Return the Monday on or before a day."""
    return day - timedelta(days=day.weekday())


def week_bounds(viewer: Viewer, first_day: date) -> tuple[datetime, datetime]:
    """Return the first midnight of the week and the one after it."""
    first, last = (
        datetime.combine(day, time(), tzinfo=viewer.zone).astimezone(UTC)
        for day in (first_day, first_day + timedelta(days=DAYS))
    )
    return first, last


def week_of(viewer: Viewer, first_day: date, now: datetime) -> Week:
    """Return a week, with the kilns under way as they are known to be now."""
    studio = viewer.studio
    starts_at, ends_at = week_bounds(viewer, first_day)
    # A kiln that got cold before the week may be unloaded in it, once somebody is in.
    found = list(standing_bookings(studio, starts_at - UNLOADED_WITHIN, ends_at))
    loads = booking_loads(studio, found)
    since = starts_at - 4 * UNLOADED_WITHIN
    writer = _Writer(viewer, first_day, Unloading(studio, since, now=now))
    for booking in found:
        writer.booking(booking, loads.get(booking.pk, EMPTY))
    rows = list(kilns(studio))
    for closure in closures(studio, starts_at, ends_at):
        writer.closure(closure, rows)
    return Week(
        first_day=first_day,
        days=tuple(_day(viewer, first_day + timedelta(days=n)) for n in range(DAYS)),
        kilns=tuple(writer.of_kiln(kiln) for kiln in rows),
    )


def _day(viewer: Viewer, day: date) -> WeekDay:
    first, last = (
        datetime.combine(one, time(), tzinfo=viewer.zone).astimezone(UTC)
        for one in (day, day + timedelta(days=1))
    )
    hours = [
        (max(span.starts_at, first), min(span.ends_at, last))
        for span in access_spans(viewer.studio, first, last)
    ]
    told = [f"{viewer.clock(a)} to {viewer.clock(b)}" for a, b in hours if a < b]
    return WeekDay(name=f"{day:%a %-d %b}", hours=", ".join(told) or "nobody is in")


class _Writer:
    """Collects the lines of each kiln and day."""

    def __init__(self, viewer: Viewer, first_day: date, unloading: Unloading) -> None:
        self.viewer = viewer
        self.first_day = first_day
        self.unloading = unloading
        self.lines: dict[tuple[int, int], list[WeekLine]] = defaultdict(list)

    def booking(self, booking: Booking, load: BookingLoad) -> None:
        """Write the lines of a booking on each of its days."""
        if booking.kind != BookingKind.FIRING:
            self._other(booking)
            return
        firing = getattr(booking, "firing", None)
        provisional = " (provisional)" if booking.is_provisional else ""
        name = load.name if load.things else booking.title
        what = f"{name}{provisional}"
        who = booking.booked_by
        start_at = booking.starts_at
        if firing is None or firing.started_at is None:
            start_at += timedelta(seconds=load_s(load))
            begin = f"Start the controller {self.viewer.clock(start_at)}."
            by = f" Booked by {who}." if who else ""
            self._add(booking, booking.starts_at, "Load", f"{what}. {begin}{by}")
        else:
            by = f" by {firing.started_by}" if firing.started_by else ""
            self._add(booking, firing.started_at, "Started", f"{what}{by}.")
        if firing is not None and firing.finished_at is not None:
            self._add(booking, firing.finished_at, "Unloaded", f"{name}.")
            return
        cold_at = self.unloading.cold_at(booking)
        opened = self.unloading.opened_at(cold_at)
        cold = f"{cold_at.astimezone(self.viewer.zone):%a %H:%M}"
        hint = "Not before" if opened == cold_at else f"Cold {cold}; not before"
        self._add(
            booking,
            opened,
            "Unload",
            f"{hint} {self.viewer.clock(opened)}, below "
            f"{self.viewer.temperature(booking.opens_below_c)}: {name}.",
        )
        first, last = self._number(start_at), self._number(opened)
        for number in range(max(first + 1, 0), min(last, DAYS)):
            self.lines[booking.kiln_id, number].append(
                WeekLine(clock="", what="Keep closed", text=f"Hot until {cold}.")
            )

    def _other(self, booking: Booking) -> None:
        kind = booking.get_kind_display()
        until = f"{booking.ends_at.astimezone(self.viewer.zone):%a %H:%M}"
        self._add(booking, booking.starts_at, kind, f"{booking.title}, until {until}.")
        first, last = self._number(booking.starts_at), self._number(booking.ends_at)
        for number in range(max(first + 1, 0), min(last + 1, DAYS)):
            if number == last and self._is_midnight(booking.ends_at):
                continue
            self.lines[booking.kiln_id, number].append(
                WeekLine(clock="", what=kind, text=f"{booking.title}, until {until}.")
            )

    def closure(self, closure: Closure, rows: Sequence[Kiln]) -> None:
        """Write a closure on each of its days, for its kiln or for all."""
        first, last = self._number(closure.starts_at), self._number(closure.ends_at)
        until = f"{closure.ends_at.astimezone(self.viewer.zone):%a %-d %b %H:%M}"
        for kiln in rows:
            if closure.kiln_id not in {None, kiln.pk}:
                continue
            for number in range(max(first, 0), min(last + 1, DAYS)):
                if number == last and self._is_midnight(closure.ends_at):
                    continue
                self.lines[kiln.pk, number].append(
                    WeekLine(
                        clock="",
                        what="Closed",
                        text=f"{closure.reason}, until {until}.",
                    )
                )

    def of_kiln(self, kiln: Kiln) -> WeekKiln:
        """Return a kiln's days, each in order of time."""
        return WeekKiln(
            name=kiln.name,
            days=tuple(
                tuple(sorted(self.lines[kiln.pk, n], key=lambda one: one.clock))
                for n in range(DAYS)
            ),
        )

    def _add(self, booking: Booking, at: datetime, what: str, text: str) -> None:
        number = self._number(at)
        if 0 <= number < DAYS:
            self.lines[booking.kiln_id, number].append(
                WeekLine(clock=self.viewer.clock(at), what=what, text=text)
            )

    def _number(self, at: datetime) -> int:
        return (at.astimezone(self.viewer.zone).date() - self.first_day).days

    def _is_midnight(self, at: datetime) -> bool:
        return at.astimezone(self.viewer.zone).time() == time()
