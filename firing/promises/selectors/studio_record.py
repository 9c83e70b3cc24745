"""How often things go wrong and take longer, from this studio's own rows."""

from collections import defaultdict

from django.db.models import Count, Q

from firing.models import FiringKind
from firing.planning.promises.promise import TrackRecord
from studio.labour import Task
from studio.models import LOST, Outcome, Pass, PieceEventKind, Studio
from studio.selectors.bench_times import TimedPass, timed_passes
from studio.selectors.pieces import standing_events


def studio_record(studio: Studio, *, tasks: tuple[Task, ...]) -> TrackRecord:
    """Return the studio's firings and those lost, and hours worked over hours planned.

    A finished piece counts for the hours if every burnt pass has its time noted. Its
    planned hours come from today's rules, because no row keeps the old ones.
    """
    passes = Pass.owned.for_studio(studio).aggregate(
        fired=Count("pk", filter=~Q(outcome="")),
        lost=Count("pk", filter=Q(outcome__in=LOST)),
    )
    fuses = (
        standing_events()
        .filter(studio=studio)
        .filter(kind=PieceEventKind.OUT_OF_KILN, firing_kind=FiringKind.FULL_FUSE)
        .aggregate(
            fired=Count("pk"), lost=Count("pk", filter=Q(outcome=Outcome.CRACKED))
        )
    )
    return TrackRecord(
        passes_fired=passes["fired"],
        passes_lost=passes["lost"],
        fuses_fired=fuses["fired"],
        fuses_lost=fuses["lost"],
        labour_ratios=_labour_ratios(studio, tasks),
    )


def _labour_ratios(studio: Studio, tasks: tuple[Task, ...]) -> tuple[float, ...]:
    """Return hours over planned hours of each finished piece whose times are all noted."""
    by_piece: dict[int, list[TimedPass]] = defaultdict(list)
    for one in timed_passes(studio, tasks, of_finished=True):
        by_piece[one.piece].append(one)
    ratios = []
    for noted in by_piece.values():
        planned = sum(one.by_rule for one in noted)
        if planned and all(one.minutes is not None for one in noted):
            ratios.append(float(sum(one.minutes or 0 for one in noted) / planned))
    return tuple(ratios)
