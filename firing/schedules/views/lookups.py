"""Finds what an address names in the studio of whoever asks, else 404."""

from typing import TYPE_CHECKING

from django.shortcuts import get_object_or_404

from firing.schedules.selectors import fits
from firing.schedules.selectors.schedules import schedules
from studio.http import StudioRequest

if TYPE_CHECKING:
    from firing.models import Schedule
    from studio.models import Kiln


def kiln_or_404(request: StudioRequest, pk: int) -> "Kiln":
    """Return a kiln of the studio, in use or not."""
    return get_object_or_404(fits.every_kiln(request.studio), pk=pk)


def schedule_or_404(request: StudioRequest, pk: int) -> "Schedule":
    """Return a schedule of the studio with its segments."""
    return get_object_or_404(schedules(request.studio), pk=pk)
