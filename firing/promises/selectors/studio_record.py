"""How often things go wrong and take longer, from this studio's own rows."""

from collections import defaultdict

from django.db.models import Count, Exists, OuterRef, Q

from firing.models import FiringKind
from firing.planning.promises.promise import TrackRecord
from studio.models import Outcome, Pass, PieceEventKind, Studio
from studio.selectors.pieces import standing_events

LOST = (Outcome.REDO, Outcome.CRACKED)


def studio_record(studio: Studio, *, painting_minutes_per_pass: int) -> TrackRecord:
    """Return the studio's firings and those lost, and hours worked over hours planned.

    A finished piece counts for the hours if every burnt pass has its time noted. Its
    planned hours come from today's time for a pass, because no row keeps the old one.
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
        labour_ratios=_labour_ratios(studio, painting_minutes_per_pass),
    )


def _labour_ratios(studio: Studio, planned_minutes: int) -> tuple[float, ...]:
    if not planned_minutes:
        return ()
    finished = standing_events().filter(
        piece=OuterRef("sheet__layer__piece"), kind=PieceEventKind.FINISHED
    )
    rows = (
        Pass.owned.for_studio(studio)
        .filter(Exists(finished), ~Q(outcome=""))
        .order_by("pk")
        .values_list("sheet__layer__piece", "minutes")
    )
    taken: dict[int, list[int | None]] = defaultdict(list)
    for piece, minutes in rows:
        taken[piece].append(minutes)
    ratios = []
    for noted in taken.values():
        known = [one for one in noted if one is not None]
        if len(known) == len(noted):
            ratios.append(sum(known) / (len(known) * planned_minutes))
    return tuple(ratios)
