"""Reads of the studio's history."""

from studio.models import HistoryEntry, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


def entries(studio: Studio, viewer: Viewer) -> StudioQuerySet[HistoryEntry]:
    """Return what this viewer may see of the studio's history, newest first."""
    found = HistoryEntry.owned.for_studio(studio).select_related("by", "piece")
    if not viewer.may_see_money:
        found = found.filter(is_about_money=False)
    return found.order_by("-at", "-pk")
