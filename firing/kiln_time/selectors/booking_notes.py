"""Notes on a booking beside its times: how full it is, what is late because of it."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from firing.kiln_time.selectors.at_risk import Risk, risks
from firing.kiln_time.selectors.booking_loads import BookingLoad, booking_loads
from firing.kiln_time.selectors.load_fill import fill_words
from firing.models import Booking
from studio.viewer import Viewer


def notes_of(
    bookings: Sequence[Booking],
    *,
    viewer: Viewer,
    now: datetime,
    loads: Mapping[int, BookingLoad] | None = None,
    found: Sequence[Risk] | None = None,
) -> dict[int, list[str]]:
    """Return the sentences about each booking: how full it is, then what is late.

    Pass in loads and risks already read to save reading them again.
    """
    if loads is None:
        loads = booking_loads(viewer.studio, bookings)
    if found is None:
        keys = {booking.pk for booking in bookings}
        found = risks(viewer, now, about=lambda one: one.pk in keys)
    filled = fill_words(bookings, loads, viewer, now)
    notes = {pk: [f"{told}."] for pk, told in filled.items()}
    wanted = {booking.pk for booking in bookings}
    for risk in found:
        for pk in wanted.intersection(risk.bookings):
            notes.setdefault(pk, []).append(risk.words)
    return notes
