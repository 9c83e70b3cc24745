"""Reads of the files that readings came from."""

from firing.models import ReadingImport
from studio.models import Studio
from studio.tenancy import StudioQuerySet


def imports(studio: Studio) -> StudioQuerySet[ReadingImport]:
    """Return the studio's files of readings with their firings, in order of time."""
    return (
        ReadingImport.owned.for_studio(studio)
        .select_related("firing__booking", "firing__kiln", "by")
        .order_by("first_at", "pk")
    )
