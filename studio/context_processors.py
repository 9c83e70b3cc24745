"""What every template gets: the viewer and the present moment."""

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from studio.viewer import viewer_of


def viewer(request: HttpRequest) -> dict[str, Any]:
    """Give templates `viewer` (units, zone, abilities) and `now`."""
    return {"viewer": viewer_of(request), "now": timezone.now()}
