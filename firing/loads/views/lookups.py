"""Finds what an address names, in the studio of whoever asks; else 404."""

from typing import Any

from django.shortcuts import get_object_or_404

from firing.loads.selectors.firings import firings
from studio.http import StudioRequest


def firing_or_404(request: StudioRequest, pk: int) -> Any:
    """Return a firing of the studio with its load."""
    return get_object_or_404(firings(request.studio), pk=pk)
