"""What to do at the kilns today: load and start, unload, wait."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from firing.kiln_time.selectors.standing import StandingTime
from firing.loads.selectors.firings import (
    FiringState,
    FiringView,
    firings,
    read_loads,
    standing_items,
    view_firings,
)
from firing.readings.selectors.warnings import with_warnings
from firing.schedules.selectors.stacks import allowed_kinds
from studio.models import Studio
from studio.selectors.pieces import PieceView
from studio.stages import Stage
from studio.viewer import Viewer

SOON = timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnsToday:
    """The day's work at the kilns."""

    to_unload: tuple[FiringView, ...]
    to_read: tuple[FiringView, ...]
    to_start: tuple[FiringView, ...]
    to_book: tuple[PieceView, ...]
    closed: tuple[FiringView, ...]
    waiting_count: int

    @property
    def is_empty(self) -> bool:
        return not (
            self.to_unload
            or self.to_read
            or self.to_start
            or self.to_book
            or self.closed
            or self.waiting_count
        )


def kilns_today(
    viewer: Viewer,
    now: datetime,
    in_work: Sequence[PieceView],
    standing: StandingTime | None = None,
) -> KilnsToday:
    """Return what to do at the kilns by the end of the day.

    `in_work` are the pieces with work left, newest first. Pass in what stands in the
    kilns if the page has read it.
    """
    studio = viewer.studio
    standing = standing or StandingTime(studio, now, with_curves=False)
    running = read_loads(standing.inside.values())
    views = view_firings(running, viewer=viewer, now=now, known=standing.known)
    inside = with_warnings(views, viewer)
    closed = sorted(
        (
            (view.known.opens_at, view.firing.pk, view)
            for view in inside
            if view.known is not None and not view.known.is_cold
        ),
        key=lambda row: row[:2],
    )
    local_end = (now.astimezone(viewer.zone) + timedelta(days=1)).replace(
        hour=0, minute=0, second=0, microsecond=0
    )
    planned = firings(studio).filter(
        started_at__isnull=True,
        finished_at__isnull=True,
        cancelled_at__isnull=True,
        booking__starts_at__lt=max(local_end, now + SOON),
    )
    return KilnsToday(
        to_unload=tuple(v for v in inside if v.state is FiringState.COLD),
        to_read=tuple(v for _, _, v in closed if v.known and v.known.is_due),
        to_start=tuple(
            view_firings(
                planned.order_by("booking__starts_at", "pk"), viewer=viewer, now=now
            )
        ),
        to_book=_to_book(studio, in_work),
        closed=tuple(v for _, _, v in closed if v.known and not v.known.is_due),
        waiting_count=_waiting_count(studio, in_work),
    )


def _waiting_count(studio: Studio, in_work: Sequence[PieceView]) -> int:
    """Count the painted passes that are in no load, as `waiting_passes` finds them."""
    painted = {
        one.pk
        for view in in_work
        for layer in view.layers
        for one in layer.passes
        if one.painted_at and not one.outcome
    }
    loaded = standing_items(studio).filter(of_pass__in=painted).values_list("of_pass")
    return len(painted) - loaded.distinct().count()


def _to_book(studio: Studio, in_work: Sequence[PieceView]) -> tuple[PieceView, ...]:
    """Return the stacks and slabs that need kiln time, oldest first.

    A fired slab that waits for inspection may be re-annealed, but inspection comes
    first.
    """
    held = set(
        standing_items(studio)
        .filter(piece__isnull=False, firing__finished_at__isnull=True)
        .values_list("piece_id", flat=True)
    )
    return tuple(
        view
        for view in reversed(in_work)
        if view.stage is not Stage.TO_INSPECT
        and allowed_kinds(view)
        and view.piece.pk not in held
    )
