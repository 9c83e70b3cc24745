"""Finds what an address names, in the studio of whoever asks; else 404."""

from typing import Any

from django.shortcuts import get_object_or_404

from firing.schedules.selectors import fits
from firing.schedules.selectors.schedules import schedules
from studio.http import StudioRequest


def kiln_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a kiln of the studio, in use or not."""
    return get_object_or_404(fits.every_kiln(request.studio), pk=pk)


def schedule_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a schedule of the studio with its segments."""
    return get_object_or_404(schedules(request.studio), pk=pk)
