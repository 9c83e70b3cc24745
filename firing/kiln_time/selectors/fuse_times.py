"""When a schedule could run in its kiln: the earliest start, and when it ends."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from firing.kiln_time.selectors.bookings import earliest_free_start, may_open_at
from firing.loads.selectors.planned import planned_stack
from firing.models import Schedule
from firing.planning.spans.free_time import NoRoom
from firing.schedules.selectors.programmes import (
    curve_points,
    held_s,
    load_s_of,
    run_of,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseTimes:
    """The proposed start, and what follows from a start."""

    proposed_at: datetime
    starts_at: datetime
    cold_at: datetime
    opens_at: datetime
    lasts_s: float
    kwh: float


def fuse_times(
    schedule: Schedule, *, starts_at: datetime | None, now: datetime
) -> FuseTimes | None:
    """Return the earliest start and what a start leads to; none without free time.

    Where the standing plan has the piece in this kiln, its start is proposed.
    """
    kiln = schedule.kiln
    if kiln is None:
        return None
    load_s = load_s_of(schedule.kind)
    run = run_of(kiln, schedule)
    curve = curve_points(run, load_s=load_s)
    planned = planned_stack(schedule.piece, after=now) if schedule.piece else None
    try:
        if planned is not None and planned.booking.kiln_id == kiln.pk:
            proposed_at = planned.booking.starts_at
        else:
            proposed_at = earliest_free_start(
                kiln=kiln, lasts_s=held_s(curve), after=now, attended_s=load_s
            )
    except NoRoom:
        return None
    start = starts_at or proposed_at
    cold_at = start + timedelta(seconds=curve[-1][0])
    return FuseTimes(
        proposed_at=proposed_at,
        starts_at=start,
        cold_at=cold_at,
        opens_at=may_open_at(kiln.studio, cold_at),
        lasts_s=curve[-1][0],
        kwh=run.energy_kwh,
    )
