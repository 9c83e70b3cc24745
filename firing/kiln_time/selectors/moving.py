"""Whether a booking may move to another start or kiln, in words, with what follows.

The page, the drag and the service all ask here, so they never differ. It only reads;
`other_kiln` says how a load runs in another kiln, `move_effects` what a move delays.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from firing.kiln_time.selectors.booking_loads import (
    EMPTY,
    booking_loads,
    booking_name,
    is_started,
)
from firing.kiln_time.selectors.bookings import HORIZON, STEP
from firing.kiln_time.selectors.move_effects import effects
from firing.kiln_time.selectors.occupancy import Occupancy, taken_in
from firing.kiln_time.selectors.other_kiln import Placement, placement_in
from firing.kiln_time.selectors.unloading import Unloading
from firing.models import Booking
from firing.planning.spans.moving import free_at, nearest_start, permitted_starts
from studio.models import Closure, Kiln
from studio.viewer import Viewer

# A drop further than this from anything permitted goes back instead of jumping there.
SNAP = timedelta(days=2)


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveVerdict:
    """The answer about a booking at a start in a kiln.

    `nearest` is the nearest permitted start; none if there is none within half a year.
    """

    booking: Booking
    kiln: Kiln
    starts_at: datetime
    ends_at: datetime
    opens_at: datetime | None
    problems: tuple[str, ...]
    nearest: datetime | None
    consequences: tuple[str, ...]
    placement: Placement

    @property
    def is_permitted(self) -> bool:
        return not self.problems

    @property
    def snap_to(self) -> datetime | None:
        """Return the start that a drop here gets; none when it goes back."""
        if self.is_permitted:
            return self.starts_at
        if self.nearest is None or abs(self.nearest - self.starts_at) > SNAP:
            return None
        return self.nearest

    @property
    def is_where_it_is(self) -> bool:
        return (
            self.kiln.pk == self.booking.kiln_id
            and self.starts_at == self.booking.starts_at
        )


def why_fixed(booking: Booking, now: datetime) -> str:
    """Say why a booking cannot be moved at all; empty when it can."""
    if booking.cancelled_at is not None:
        return "This booking is cancelled, so there is nothing to move."
    if is_started(booking):
        firing = booking.firing
        if firing.finished_at is not None:
            return "This firing is over."
        return "This firing has started. A running firing is never moved."
    waits = bool(booking.planned_curve)
    if not waits and booking.starts_at <= now:
        return "This booking has begun. Cancel it and book what is left."
    return ""


def movable(booking: Booking, now: datetime) -> bool:
    """Return whether a booking can be moved at all."""
    return not why_fixed(booking, now)


def judge_move(
    booking: Booking,
    *,
    kiln: Kiln,
    starts_at: datetime,
    viewer: Viewer,
    now: datetime,
) -> MoveVerdict:
    """Return whether a booking may begin then in that kiln, why not, and what follows."""
    starts_at = starts_at.astimezone(UTC)
    load = booking_loads(viewer.studio, [booking]).get(booking.pk, EMPTY)
    unloading = Unloading(viewer.studio, now)
    placement = placement_in(booking, load, kiln, viewer)
    task = placement.task
    fixed = why_fixed(booking, now)
    problems = [fixed] if fixed else list(placement.problems)
    nearest = None
    if not problems:
        taken = taken_in(kiln, unloading, besides=booking)
        ranges = permitted_starts(
            task,
            taken=[one.span for one in taken],
            access=unloading.hours,
            not_before=now.astimezone(UTC),
            until=now.astimezone(UTC) + HORIZON,
        )
        nearest = nearest_start(starts_at, ranges, STEP)
        if nearest != starts_at:
            problems = _problems(
                starts_at, placement, kiln, taken, unloading, viewer, now
            )
    # The effects are those of the place where it would land.
    lands_at = starts_at
    if problems and nearest is not None and abs(nearest - starts_at) <= SNAP:
        lands_at = nearest
    free = free_at(lands_at, task, unloading.openings) or lands_at + task.lasts
    return MoveVerdict(
        booking=booking,
        kiln=kiln,
        starts_at=starts_at,
        ends_at=starts_at + task.lasts,
        opens_at=None if task.cold is None else starts_at + task.cold,
        problems=tuple(problems),
        nearest=nearest,
        consequences=()
        if fixed
        else effects(
            booking,
            load,
            starts_at=lands_at,
            free_at=free,
            unloading=unloading,
            viewer=viewer,
            now=now,
        ),
        placement=placement,
    )


def _problems(
    starts_at: datetime,
    placement: Placement,
    kiln: Kiln,
    taken: list[Occupancy],
    unloading: Unloading,
    viewer: Viewer,
    now: datetime,
) -> list[str]:
    """Name every rule that a start breaks."""
    task = placement.task

    def when(at: datetime) -> str:
        return viewer.moment(at, now)

    if starts_at < now:
        return [f"{when(starts_at)} is past."]
    found = []
    if task.load and not _attended(starts_at, task.load, unloading):
        needs = viewer.duration(task.load.total_seconds())
        found.append(
            f"Nobody is in to load it {when(starts_at)}: loading takes {needs} within "
            f"access hours.{_next_hours(starts_at, unloading, viewer, now)}"
        )
    ends_at = starts_at + task.lasts
    free = free_at(starts_at, task, unloading.openings) or ends_at
    for one in taken:
        held = one.span
        if starts_at >= held.ends_at or free <= held.starts_at:
            continue
        what = one.what
        name = booking_name(what) if isinstance(what, Booking) else str(what)
        if isinstance(what, Closure):
            who = str(what.kiln) if what.kiln_id else "The studio"
            found.append(
                f"{who} is closed from {when(what.starts_at)} to {when(what.ends_at)}: "
                f"{what.reason}."
            )
        elif starts_at < what.ends_at and what.starts_at < ends_at:
            found.append(
                f"{kiln} is taken by “{name}” from {when(what.starts_at)} to "
                f"{when(what.ends_at)}."
            )
        elif what.starts_at < starts_at:
            found.append(
                f"“{name}” before it can be unloaded only by {when(held.ends_at)}: "
                "nobody is in earlier."
            )
        else:
            opens = starts_at + (task.cold or task.lasts)
            found.append(
                f"It may be opened {when(opens)}, but with the access hours {kiln} is "
                f"empty only by {when(free)}, and “{name}” begins "
                f"{when(what.starts_at)}."
            )
    if not found:
        found.append(f"{when(starts_at)} is further ahead than can be planned.")
    return found


def _attended(starts_at: datetime, load: timedelta, unloading: Unloading) -> bool:
    return any(
        hours.starts_at <= starts_at and starts_at + load <= hours.ends_at
        for hours in unloading.hours
    )


def _next_hours(
    starts_at: datetime, unloading: Unloading, viewer: Viewer, now: datetime
) -> str:
    for hours in unloading.hours:
        if hours.ends_at > starts_at:
            return (
                f" Somebody is in {viewer.moment(hours.starts_at, now)} to "
                f"{viewer.clock(hours.ends_at)}."
            )
    return ""
