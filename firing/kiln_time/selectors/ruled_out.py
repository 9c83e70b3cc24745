"""Fixed bookings that the studio's own facts rule out since they were made: hours taken
away, a closure on top of them, a kiln that is retired. They stay until somebody decides.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from firing.kiln_time.selectors.access import closures
from firing.kiln_time.selectors.booking_loads import is_started
from firing.kiln_time.selectors.bookings import coming_bookings
from firing.kiln_time.selectors.unloading import LOOK_AHEAD, Unloading
from firing.models import Booking
from firing.planning.problem import practice
from studio.viewer import Viewer

# Sheets are the quickest to load; whoever moves the booking is told the exact time.
LOAD = timedelta(seconds=practice.LOAD_SHEETS_S)


@dataclass(frozen=True, slots=True, kw_only=True)
class RuledOut:
    """A booking, what stands against it, and what to do, in words."""

    booking: Booking
    words: str


def bookings_ruled_out(viewer: Viewer, now: datetime) -> list[RuledOut]:
    """Return the coming bookings that could not be made now, by time."""
    coming = list(coming_bookings(viewer.studio, now).filter(is_provisional=False))
    return list(ruled_out(coming, Unloading(viewer.studio, now), viewer, now))


def ruled_out(
    bookings: Sequence[Booking], unloading: Unloading, viewer: Viewer, now: datetime
) -> Iterator[RuledOut]:
    """Yield which of these bookings could not be made now, and why.

    Provisional ones are left out: the next plan moves them by itself.
    """
    coming = [
        one
        for one in bookings
        if not one.is_provisional
        and now < one.starts_at < now + LOOK_AHEAD
        and not is_started(one)
    ]
    if not coming:
        return
    last = max(one.ends_at for one in coming)
    shut = list(closures(viewer.studio, now, last))

    def when(at: datetime) -> str:
        return viewer.moment(at, now)

    for booking in coming:
        kiln, title, begins = booking.kiln, booking.title, when(booking.starts_at)
        if kiln.is_retired:
            yield RuledOut(
                booking=booking,
                words=f"{kiln} is retired, and “{title}” is booked in it {begins}. "
                "Move it to another kiln, or cancel it.",
            )
        own = (
            one
            for one in shut
            if one.kiln_id in {None, kiln.pk}
            and one.starts_at < booking.ends_at
            and booking.starts_at < one.ends_at
        )
        closure = next(own, None)
        if closure is not None:
            who = str(kiln) if closure.kiln_id else "The studio"
            yield RuledOut(
                booking=booking,
                words=f"{who} is closed from {when(closure.starts_at)} to "
                f"{when(closure.ends_at)}, and “{title}” is booked in {kiln} {begins}. "
                "Move it, cancel it, or change the closure.",
            )
        elif booking.planned_curve and not _is_attended(booking, unloading):
            yield RuledOut(
                booking=booking,
                words=f"Nobody is in to load “{title}” into {kiln} {begins}. Move it, "
                "or put the access hours back.",
            )


def _is_attended(booking: Booking, unloading: Unloading) -> bool:
    return any(
        hours.starts_at <= booking.starts_at
        and booking.starts_at + LOAD <= hours.ends_at
        for hours in unloading.hours
    )
