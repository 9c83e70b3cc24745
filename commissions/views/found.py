"""Finds what an address names in the studio of whoever asks, else 404."""

from typing import TYPE_CHECKING

from django.shortcuts import get_object_or_404

from commissions.selectors.commissions import commissions
from studio.http import StudioRequest

if TYPE_CHECKING:
    from commissions.models import Commission


def commission_or_404(request: StudioRequest, pk: int) -> "Commission":
    """Return the commission."""
    return get_object_or_404(commissions(request.studio), pk=pk)
