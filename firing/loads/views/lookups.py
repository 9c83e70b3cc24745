"""Finds what an address names in the studio of whoever asks, else 404."""

from typing import TYPE_CHECKING

from django.shortcuts import get_object_or_404

from firing.loads.selectors.firings import firings
from studio.http import StudioRequest

if TYPE_CHECKING:
    from firing.models import Firing


def firing_or_404(request: StudioRequest, pk: int) -> "Firing":
    """Return a firing of the studio with its load."""
    return get_object_or_404(firings(request.studio), pk=pk)
