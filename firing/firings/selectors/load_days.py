"""On which days finished firings were loaded and unloaded, for the times of that work."""

from zoneinfo import ZoneInfo

from firing.models import Firing, LoadItem
from studio.models import Studio
from studio.selectors.bench_times import LoadDays, on_load_days

# The newest say how a studio works now.
MOST_FIRINGS = 100


@on_load_days
def load_days(studio: Studio) -> list[LoadDays]:
    """Return the newest finished firings with the studio's pieces; two queries."""
    zone = ZoneInfo(studio.time_zone)
    newest = (
        Firing.owned.for_studio(studio)
        .filter(finished_at__isnull=False)
        .order_by("-finished_at", "-pk")
        .values_list("pk", "started_at", "finished_at")[:MOST_FIRINGS]
    )
    days = {
        pk: frozenset(at.astimezone(zone).date() for at in moments if at is not None)
        for pk, *moments in newest
    }
    pieces: dict[int, set[int]] = {pk: set() for pk in days}
    items = LoadItem.owned.for_studio(studio).filter(firing__in=days)
    for firing, stack, layer_of in items.order_by("pk").values_list(
        "firing_id", "piece_id", "of_pass__sheet__layer__piece_id"
    ):
        if (piece := stack or layer_of) is not None:
            pieces[firing].add(piece)
    return [
        LoadDays(pieces=frozenset(pieces[pk]), days=days[pk])
        for pk in days
        if pieces[pk]
    ]
