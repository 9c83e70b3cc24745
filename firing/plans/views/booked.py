"""Says on the next page that kiln time is booked: with a way back, and with what it
displaced.
"""

from datetime import datetime
from typing import TYPE_CHECKING

from django.contrib import messages
from django.urls import reverse

from firing.plans.selectors.places import lost_places
from studio.http import StudioRequest, say_done

if TYPE_CHECKING:
    from firing.models import Booking


def say_booked(
    request: StudioRequest, booking: "Booking", told: str, *, at: datetime
) -> None:
    """Say what was booked, with a button to undo it, and what lost its planned place."""
    say_done(request, told, undo_url=reverse("firing:booking_undo", args=[booking.pk]))
    if lost := lost_places(booking, at=at):
        messages.warning(request, " ".join([*lost, "The kilns are planned again."]))
