"""What was typed into a running firing's controller, and the planned curve it makes."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from firing.models import Firing, TypedProgramme
from firing.physics.formats.design_format import schedule_from_mapping
from firing.physics.kiln.thinning import thin
from firing.physics.schedule import Programme
from firing.schedules.selectors.programmes import kiln_run, run_as_it_is_now
from firing.schedules.selectors.schedules import programme_of
from studio.models import Studio
from studio.tenancy import StudioQuerySet

Points = Sequence[Sequence[float]]
# Of a stored curve; points are left out within so much, or twice it, and so on [K].
MOST_POINTS, FIRST_WITHIN_K = 198, 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPart:
    """What a firing's controller was told, and from when to when; times from the
    booking's start [s].

    `ends_s` are those of its segments, none where the kiln can do it no more.
    """

    programme: Programme
    starts_s: float
    until_s: float
    ends_s: tuple[float, ...]


def all_typed(studio: Studio) -> StudioQuerySet[TypedProgramme]:
    """Return everything that was typed while a firing of the studio ran."""
    return TypedProgramme.owned.for_studio(studio).select_related(
        "firing__kiln__studio", "firing__booking", "firing__studio"
    )


def standing_typed(studio: Studio) -> StudioQuerySet[TypedProgramme]:
    """Return those that were not taken back."""
    return all_typed(studio).filter(taken_back_at__isnull=True)


def typed_in(firing: Firing) -> list[TypedProgramme]:
    """Return the programmes typed while a firing ran that stand, in order of time."""
    return sorted(
        (one for one in firing.typed.all() if one.taken_back_at is None),
        key=lambda one: (one.at, one.pk),
    )


def programme_typed(typed: TypedProgramme) -> Programme:
    """Return a typed programme as the physics' value."""
    return schedule_from_mapping(typed.programme)


def seconds_in(firing: Firing, at: datetime) -> float:
    """Return an instant on the clock of the booking [s]."""
    seconds: float = (at - firing.booking.starts_at).total_seconds()
    return seconds


def curve_with_typed(
    original: Points, typed: Iterable[TypedProgramme], starts_at: datetime
) -> list[list[float]]:
    """Return the planned curve: the original, and from each typing on what was typed."""
    points = [list(point) for point in original]
    for one in typed:
        at_s = (one.at - starts_at).total_seconds()
        times, heats = np.array(points, dtype=np.float64).T
        before = [point for point in points if point[0] < at_s]
        if before:
            last_c = float(np.interp(at_s, times, heats))
            before.append([round(at_s, 1), round(last_c, 1)])
        # A moment later, so that no curve has two temperatures at once.
        points = before + [
            [round(at_s + max(s, 1.0), 1), celsius] for s, celsius in one.curve
        ]
    within_k = FIRST_WITHIN_K
    while len(points) > MOST_POINTS:
        times, heats = np.array(points, dtype=np.float64).T
        few = thin(times, heats, within_k=within_k)
        points = np.column_stack((few.time_s, few.temperature_c)).tolist()
        within_k *= 2
    return points


def planned_parts(firing: Firing) -> list[PlannedPart]:
    """Return the schedule, and what was typed instead of its rest, each until the next."""
    typed, booking = typed_in(firing), firing.booking
    original = typed[0].planned_before if typed else booking.planned_curve
    run = run_as_it_is_now(firing.kiln, firing.schedule)
    load_s = 0.0
    if run is not None and original:
        load_s = max(0.0, original[-1][0] - run.ready_s)
    stops = [seconds_in(firing, one.at) for one in typed]
    stops.append(booking.planned_curve[-1][0] if booking.planned_curve else 0.0)
    parts = [
        PlannedPart(
            programme=programme_of(firing.schedule),
            starts_s=load_s,
            until_s=stops[0] if typed or run is None else load_s + run.ready_s,
            ends_s=()
            if run is None
            else tuple(load_s + end for end in run.segment_ends_s),
        )
    ]
    for one, until_s in zip(typed, stops[1:], strict=True):
        programme, starts_s = programme_typed(one), seconds_in(firing, one.at)
        followed = kiln_run(firing.kiln, programme)
        parts.append(
            PlannedPart(
                programme=programme,
                starts_s=starts_s,
                until_s=until_s,
                ends_s=()
                if followed is None
                else tuple(starts_s + end for end in followed.segment_ends_s),
            )
        )
    return parts
