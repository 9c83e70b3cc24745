"""What is wrong by their verdicts with firings and pieces, so that no page passes over it."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from firing.loads.selectors.firings import FiringView
from firing.models import Judgement, LoadItem
from firing.physics.judging.verdict import Verdict
from firing.readings.selectors.verdict_words import STATUS_KIND, verdict_line
from studio.models import Piece, Studio
from studio.viewer import Viewer

WARNED = (
    Verdict.CHECK,
    *(verdict for verdict, kind in STATUS_KIND.items() if kind == "problem"),
)


def with_warnings(views: Iterable[FiringView], viewer: Viewer) -> list[FiringView]:
    """Return the firings with what their last verdicts warn of; one query."""
    rows = list(views)
    told = warnings_of([view.firing.pk for view in rows], viewer)
    return [replace(view, warning=told.get(view.firing.pk, "")) for view in rows]


def warnings_of(firings: Sequence[int], viewer: Viewer) -> dict[int, str]:
    """Return the verdict of each firing that is, or perhaps is, over a limit.

    The last verdict counts even if other readings came since: it stands until a better
    one is worked out.
    """
    if not firings:
        return {}
    last = {
        one.firing_id: one
        for one in Judgement.owned.for_studio(viewer.studio)
        .filter(firing__in=firings)
        .defer("trace")
        .order_by("made_at", "pk")
    }
    return {
        pk: verdict_line(one, viewer)[0]
        for pk, one in last.items()
        if one.verdict in WARNED
    }


def piece_warnings(pieces: Sequence[Piece], viewer: Viewer) -> dict[int, str]:
    """Return what the verdict on each piece's own last firing warns of."""
    last = _last_firings(viewer.studio, pieces)
    told = warnings_of(list(last.values()), viewer)
    return {piece: told[firing] for piece, firing in last.items() if firing in told}


def _last_firings(studio: Studio, pieces: Sequence[Piece]) -> dict[int, int]:
    rows = (
        LoadItem.owned.for_studio(studio)
        .filter(piece__in=pieces, firing__started_at__isnull=False)
        .order_by("firing__started_at", "firing")
        .values_list("piece", "firing")
    )
    return dict(rows)
