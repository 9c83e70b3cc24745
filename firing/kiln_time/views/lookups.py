"""Finds what an address names, in the studio of whoever asks; else 404."""

from typing import Any

from django.shortcuts import get_object_or_404

from firing.kiln_time.selectors.bookings import bookings
from studio.http import StudioRequest


def booking_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a booking of the studio."""
    return get_object_or_404(bookings(request.studio), pk=pk)
