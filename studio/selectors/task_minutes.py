"""Minutes of work by hand that were recorded, by piece and task."""

from collections import defaultdict
from collections.abc import Collection

from django.db.models import Count, Q, Sum

from studio.labour import Step
from studio.models import Outcome, Pass, Studio, Technique
from studio.selectors.bench_times import tasks_of

LOST = (Outcome.REDO, Outcome.CRACKED)


def minutes_by_task(
    studio: Studio, pieces: Collection[int] | None = None
) -> dict[int, dict[str, int]]:
    """Return recorded minutes by piece and task key; passes are painting or decals."""
    keys = {task.step: task.key for task in tasks_of(studio)}
    rows = Pass.owned.for_studio(studio).filter(minutes__isnull=False)
    if pieces is not None:
        rows = rows.filter(sheet__layer__piece__in=pieces)
    of_layer = "sheet__layer"
    found: dict[int, dict[str, int]] = defaultdict(dict)
    for piece, technique, minutes, _ in (
        rows.order_by()
        .values_list(f"{of_layer}__piece", f"{of_layer}__technique")
        .annotate(Sum("minutes"), Count("pk"))
    ):
        step = Step.DECAL if technique == Technique.DECAL else Step.PAINT
        if step in keys:
            found[piece][keys[step]] = minutes
    return found


def lost_minutes(studio: Studio, pieces: Collection[int]) -> int:
    """Return the minutes of passes that were lost, or are on sheets set aside."""
    lost = Q(outcome__in=LOST) | Q(sheet__set_aside_at__isnull=False)
    rows = Pass.owned.for_studio(studio).filter(lost, sheet__layer__piece__in=pieces)
    return int(rows.aggregate(total=Sum("minutes"))["total"] or 0)
