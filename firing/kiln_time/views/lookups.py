"""Finds what an address names in the studio of whoever asks, else 404."""

from typing import TYPE_CHECKING

from django.shortcuts import get_object_or_404

from firing.kiln_time.selectors.bookings import bookings
from studio.http import StudioRequest

if TYPE_CHECKING:
    from firing.models import Booking


def booking_or_404(request: StudioRequest, pk: int) -> "Booking":
    """Return a booking of the studio."""
    return get_object_or_404(bookings(request.studio), pk=pk)
