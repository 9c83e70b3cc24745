"""The curves of firings, thin or in miniature, in one query for any number of them."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from firing.drawings.curve_mark import CurveMark, build_curve_mark
from firing.models import Firing, ReadingImport
from studio.models import Studio


def curve_marks(studio: Studio, firings: Iterable[Firing]) -> dict[int, CurveMark]:
    """Draw each firing's plan and what was recorded of it, by the firings' keys."""
    rows = list(firings)
    recorded = recorded_curves(studio, rows)
    return {
        one.pk: build_curve_mark(
            planned=one.booking.planned_curve, recorded=recorded[one.pk]
        )
        for one in rows
    }


def recorded_curves(
    studio: Studio, rows: Sequence[Firing]
) -> dict[int, list[tuple[float, float]]]:
    """Return what was recorded of each firing, thinned: seconds since its start, °C."""
    recorded: dict[int, list[tuple[float, float]]] = defaultdict(list)
    begins = {one.pk: one.booking.starts_at for one in rows}
    imports = ReadingImport.owned.for_studio(studio).filter(firing__in=rows)
    # Without the rest of the row: what was left out of a file may be long.
    for one in imports.only("firing_id", "first_at", "thin_curve"):
        ahead_s = (one.first_at - begins[one.firing_id]).total_seconds()
        recorded[one.firing_id] += [
            (max(ahead_s + seconds, 0.0), celsius)
            for seconds, celsius in one.thin_curve
        ]
    return recorded
