"""Finds what an address names, in the studio of whoever asks; else 404."""

from typing import TYPE_CHECKING

from django.shortcuts import get_object_or_404

from firing.kiln_time.selectors.bookings import bookings
from firing.loads.selectors.firings import firings
from firing.readings.selectors.imports import imports
from firing.readings.selectors.kiln_record import comparisons
from firing.readings.selectors.loggers import loggers
from firing.schedules.selectors import fits
from firing.schedules.selectors.schedules import schedules
from studio.http import StudioRequest

if TYPE_CHECKING:
    from firing.models import (
        Booking,
        Firing,
        KilnComparison,
        KilnLogger,
        ReadingImport,
        Schedule,
    )
    from studio.models import Kiln


def kiln_or_404(request: StudioRequest, pk: int) -> "Kiln":
    """Return a kiln of the studio, in use or not."""
    return get_object_or_404(fits.every_kiln(request.studio), pk=pk)


def booking_or_404(request: StudioRequest, pk: int) -> "Booking":
    """Return a booking of the studio."""
    return get_object_or_404(bookings(request.studio), pk=pk)


def firing_or_404(request: StudioRequest, pk: int) -> "Firing":
    """Return a firing of the studio with its load."""
    return get_object_or_404(firings(request.studio), pk=pk)


def schedule_or_404(request: StudioRequest, pk: int) -> "Schedule":
    """Return a schedule of the studio with its segments."""
    return get_object_or_404(schedules(request.studio), pk=pk)


def comparison_or_404(request: StudioRequest, pk: int) -> "KilnComparison":
    """Return a comparison of one of the studio's kilns."""
    return get_object_or_404(comparisons(request.studio), pk=pk)


def logger_or_404(request: StudioRequest, pk: int) -> "KilnLogger":
    """Return a logger of one of the studio's kilns."""
    return get_object_or_404(loggers(request.studio), pk=pk)


def import_or_404(request: StudioRequest, pk: int) -> "ReadingImport":
    """Return a file of readings of the studio."""
    return get_object_or_404(imports(request.studio), pk=pk)
