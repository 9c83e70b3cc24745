"""What every template knows: the reader and the present moment."""

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from studio.reader import reader_of


def reader(request: HttpRequest) -> dict[str, Any]:
    """Give templates `reader` (units, zone, abilities) and `now`."""
    return {"reader": reader_of(request), "now": timezone.now()}
