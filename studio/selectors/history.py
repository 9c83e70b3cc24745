"""Reads of the studio's history."""

from studio.models import HistoryEntry, Studio
from studio.reader import Reader
from studio.tenancy import StudioQuerySet


def entries(studio: Studio, reader: Reader) -> StudioQuerySet[HistoryEntry]:
    """Return what this reader may see of the studio's history, newest first."""
    found = HistoryEntry.owned.for_studio(studio).select_related("by", "piece")
    if not reader.may_see_money:
        found = found.filter(is_about_money=False)
    return found.order_by("-at", "-pk")
