"""Reads of stored schedules, as rows and as the physics' values."""

from firing.models import Schedule
from firing.physics.schedule import Programme, Segment
from studio.models import Glass, Kiln, Piece, Studio
from studio.tenancy import StudioQuerySet


def schedules(studio: Studio) -> StudioQuerySet[Schedule]:
    """Return the studio's schedules with their segments, newest first."""
    return (
        Schedule.owned.for_studio(studio)
        .select_related("kiln", "glass", "piece", "made_by")
        .prefetch_related("segments")
        .order_by("-made_at", "-pk")
    )


def versions_of(schedule: Schedule) -> StudioQuerySet[Schedule]:
    """Return every version of the same schedule, newest first."""
    return series(
        schedule.studio,
        kind=schedule.kind,
        piece=schedule.piece,
        glass=schedule.glass,
        kiln=schedule.kiln,
    )


def series(
    studio: Studio,
    *,
    kind: str,
    piece: Piece | None,
    glass: Glass,
    kiln: Kiln | None,
) -> StudioQuerySet[Schedule]:
    """Return the versions for a piece, or of a glass in a kiln, newest first.

    Names decide nothing: two pieces may have one title, and kilns and glasses are
    renamed.
    """
    found = schedules(studio).filter(kind=kind, piece=piece)
    if piece is None:
        found = found.filter(glass=glass, kiln=kiln)
    return found.order_by("-version", "-pk")


def programme_of(schedule: Schedule) -> Programme:
    """Return a stored schedule as the physics' value."""
    return Programme(
        start_c=schedule.start_c,
        segments=tuple(
            Segment(
                label=row.label,
                rate_c_per_h=row.rate_c_per_h,
                target_c=row.target_c,
                hold_s=row.hold_s,
            )
            for row in schedule.segments.all()
        ),
    )
