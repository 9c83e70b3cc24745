"""Finds what an address names, in the studio of whoever asks; else 404."""

from typing import Any

from django.shortcuts import get_object_or_404

from commissions.selectors.commissions import commissions
from studio.http import StudioRequest


def commission_or_404(request: StudioRequest, pk: int) -> Any:
    """Return the commission, in the studio of whoever asks."""
    return get_object_or_404(commissions(request.studio), pk=pk)
