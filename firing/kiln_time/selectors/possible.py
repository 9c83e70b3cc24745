"""Whether a planned load can still be in the kiln when the plan has it there.

What is left to do first is counted low: only the work at the bench, while the studio is
open, and the firings that are planned or running. So a load that might just be ready
keeps its place.
"""

from datetime import datetime, timedelta

from firing.kiln_time.selectors.access import access_spans
from firing.loads.selectors.firings import standing_items
from firing.loads.selectors.planned import (
    GRACE,
    pass_of,
    planned_firings,
    unready_items,
)
from firing.models import FiringKind, PlannedFiring, PlannedItem
from studio.labour import BenchTimes
from studio.models import Piece, Technique
from studio.selectors.bench_times import bench_times_of, tasks_of
from studio.selectors.pieces import pieces, view_pieces


def gives_way(row: PlannedFiring, now: datetime) -> bool:
    """Return whether a planned load holds its kiln for nothing: real work may have it."""
    booking = row.booking
    if not booking.is_provisional:
        return False
    if booking.starts_at <= now - GRACE:
        return True
    unready = unready_items(row)
    if not unready or len(unready) < len(row.items.all()):
        return False
    left, tasks = _bench_time(row, now), tasks_of(row.studio)
    of_items = pieces(row.studio).filter(pk__in={item.piece_id for item in unready})
    benches = {v.piece.pk: bench_times_of(v, tasks) for v in view_pieces(of_items)}
    return not any(
        _can_be_ready(item, row, now, left, benches[item.piece_id]) for item in unready
    )


def _bench_time(row: PlannedFiring, now: datetime) -> timedelta:
    """Return how long somebody may be in before a planned load."""
    starts_at = row.booking.starts_at
    spans = access_spans(row.studio, now, starts_at) if now < starts_at else ()
    return sum(
        (min(one.ends_at, starts_at) - max(one.starts_at, now) for one in spans),
        timedelta(0),
    )


def _can_be_ready(
    item: PlannedItem,
    row: PlannedFiring,
    now: datetime,
    left: timedelta,
    bench: BenchTimes,
) -> bool:
    if row.kind != FiringKind.ENAMEL:
        needed = timedelta(minutes=bench.assembly_minutes)
        return needed <= left and _burnt_by(item.piece, now) <= row.booking.starts_at
    one = pass_of(item)
    if one is not None and (one.outcome or one.sheet.set_aside_at is not None):
        return False
    is_decal = item.layer is not None and item.layer.technique == Technique.DECAL
    return timedelta(minutes=bench.minutes_of_pass(is_decal=is_decal)) <= left


def _burnt_by(piece: Piece, now: datetime) -> datetime:
    """Return the earliest moment when a piece's layers in a load can be out of it."""
    planned = planned_firings(piece.studio).filter(
        kind=FiringKind.ENAMEL, items__piece=piece
    )
    ends = [
        max(now, row.booking.starts_at) + (row.booking.ends_at - row.booking.starts_at)
        for row in planned
    ]
    loaded = standing_items(piece.studio).filter(
        of_pass__sheet__layer__piece=piece, firing__finished_at__isnull=True
    )
    ends += [
        item.firing.booking.ends_at for item in loaded.select_related("firing__booking")
    ]
    return max([now, *ends])
