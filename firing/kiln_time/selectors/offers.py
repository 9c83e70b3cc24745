"""When a programme could run in a kiln: one value for headline, button and booking."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from firing.kiln_time.selectors.bookings import may_open_at
from firing.kiln_time.selectors.free_starts import Free, free_in
from firing.loads.selectors.planned import planned_stack
from firing.models import PlannedFiring, Schedule
from firing.physics.kiln.model import KilnRun
from firing.planning.spans.free_time import NoRoom, Span
from firing.schedules.selectors.programmes import (
    curve_points,
    held_s,
    load_s_of,
    run_of,
)
from firing.schedules.selectors.stress_words import full_quarters, next_quarter


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A firing in its kiln from a start on.

    Attributes
    ----------
    earliest : datetime
        The start that the plan keeps for it, or the first that is free.
    starts_at, opens_at : datetime
        When loading begins, and when the kiln may be opened, as the booking will say.
    opened_at : datetime
        When somebody is in to open it.
    lasts_s : float
        From loading until it may be opened [s].
    kwh : float
        Energy [kWh].
    """

    earliest: datetime
    starts_at: datetime
    opens_at: datetime
    opened_at: datetime
    lasts_s: float
    kwh: float

    @property
    def opens_about(self) -> datetime:
        """When it may be opened, up to the next quarter of an hour: as people say it."""
        return next_quarter(self.opens_at)

    @property
    def lasts_about_s(self) -> float:
        """How long it lasts, up to the next quarter of an hour [s]."""
        return full_quarters(self.lasts_s)


def offer_of(
    free: Free,
    run: KilnRun,
    *,
    load_s: float,
    planned: PlannedFiring | None,
    starts_at: datetime | None = None,
) -> Offer | None:
    """Return a run's times from a start, or from the earliest; none without free time.

    The plan's own start is the earliest where it has the firing in this kiln, with room.
    """
    curve = curve_points(run, load_s=load_s)
    lasts_s = held_s(curve)
    try:
        earliest = _planned_start(free, planned, lasts_s) or free.earliest(
            lasts_s, attended_s=load_s
        )
    except NoRoom:
        return None
    start = starts_at or earliest
    opens_at = start + timedelta(seconds=curve[-1][0])
    return Offer(
        earliest=earliest,
        starts_at=start,
        opens_at=opens_at,
        opened_at=may_open_at(free.kiln.studio, opens_at),
        lasts_s=curve[-1][0],
        kwh=run.energy_kwh,
    )


def _planned_start(
    free: Free, planned: PlannedFiring | None, lasts_s: float
) -> datetime | None:
    """Return the start that the plan keeps in a kiln, if the run has room there."""
    if planned is None or planned.booking.kiln_id != free.kiln.pk:
        return None
    start: datetime = planned.booking.starts_at
    span = Span(starts_at=start, ends_at=start + timedelta(seconds=lasts_s))
    return start if free.is_free(span, besides=planned.booking) else None


def offer_for(
    schedule: Schedule, *, starts_at: datetime | None, now: datetime
) -> Offer | None:
    """Return a stored schedule's times; none without a kiln or free time.

    Raises
    ------
    PhysicsProblem
        When the kiln cannot run it any more.
    """
    if schedule.kiln is None:
        return None
    return offer_of(
        free_in(schedule.kiln, now, now=now),
        run_of(schedule.kiln, schedule),
        load_s=load_s_of(schedule.kind),
        planned=planned_stack(schedule.piece, after=now) if schedule.piece else None,
        starts_at=starts_at,
    )
