"""A firing whose controller was told something else on the way: each in its turn.

Somebody typed another programme, or the controller began its own again after a cut.
"""

from dataclasses import dataclass, replace

import numpy as np

from firing.physics.judging.plan_following import (
    FROM_HERE,
    GRID_S,
    NEAR_K,
    Fault,
    Followed,
    HoldKept,
    RateKept,
    follow_plan,
)
from firing.physics.kiln.recorded import FilteredReadings
from firing.physics.schedule import Curve, FloatArray, Programme, Segment

# A kiln that rises this far above its anneal again runs its programme again [K].
AGAIN_K = 50.0
# So much of its hottest hold makes it done.
DONE_SHARE = 0.8


@dataclass(frozen=True, slots=True)
class TypedAt:
    """A programme typed into the running controller [s on the clock of the readings]."""

    at_s: float
    programme: Programme


def in_force(
    record: FilteredReadings, planned: Programme, typed: tuple[TypedAt, ...]
) -> Programme:
    """Return what the controller was told last, from where the kiln was then.

    Parameters
    ----------
    record : FilteredReadings
        The firing.
    planned : Programme
        Its plan.
    typed : tuple of TypedAt
        What was typed while it ran, in order of time.

    References
    ----------
    None: bookkeeping.
    """
    if not typed:
        return planned
    curve, last = record.curve, typed[-1]
    start_c = float(
        np.interp(last.at_s - record.starts_s, curve.time_s, curve.temperature_c)
    )
    programme = Programme(start_c=start_c, segments=last.programme.segments)
    if programme.peak_c > start_c:
        return programme
    # What only cools begins at its hottest.
    start = Segment(label=FROM_HERE, rate_c_per_h=None, target_c=start_c)
    return Programme(start_c=start_c, segments=(start, *programme.segments))


def follow_typed(
    record: FilteredReadings, planned: Programme, typed: tuple[TypedAt, ...]
) -> Followed:
    """Compare a record with its plan, and from each typing on with what was typed.

    Parameters
    ----------
    record, planned, typed
        As for `in_force`.

    Returns
    -------
    Followed
        Faults of the whole; holds and rates of a plan that was left count as far as it
        was followed; `done` counts segments of the last one.

    Raises
    ------
    PhysicsProblem
        If the plan never heats.

    References
    ----------
    As `follow_plan`.
    """
    stops = [min(max(one.at_s - record.starts_s, 0.0), record.lasts_s) for one in typed]
    holds: list[HoldKept] = []
    rates: list[RateKept] = []
    faults: list[Fault] = []
    done = 0
    for number, (from_s, to_s) in enumerate(
        zip((0.0, *stops), (*stops, record.lasts_s), strict=True)
    ):
        plan = in_force(record, planned, typed[:number])
        followed = _within(record, plan, from_s, to_s)
        done = followed.done
        kept = {one.label for one in plan.segments}
        if number < len(typed):
            kept = {one.label for one in plan.segments[: max(done - 1, 0)]}
        holds += [one for one in followed.holds if one.segment in kept]
        rates += [one for one in followed.rates if one.segment in kept]
        faults += followed.faults
    return Followed(
        holds=tuple(holds), rates=tuple(rates), faults=tuple(faults), done=done
    )


def _within(
    record: FilteredReadings, plan: Programme, from_s: float, to_s: float
) -> Followed:
    """Follow a plan in a part of a record; times count as in the whole."""
    curve = record.curve
    inside = (curve.time_s > from_s) & (curve.time_s < to_s)
    time_s = np.concatenate(([from_s], curve.time_s[inside], [to_s]))
    kiln_c = np.interp(time_s, curve.time_s, curve.temperature_c)
    if to_s - from_s < GRID_S:
        # Nothing was read of it yet.
        return Followed(
            holds=(),
            rates=(),
            faults=(),
            done=int(plan.segments[0].label == FROM_HERE),
        )
    again_s = _began_again(time_s, kiln_c, plan)
    if again_s is not None:
        # The same programme from its top: what counts is how it is followed now.
        first = _within(record, plan, from_s, again_s)
        second = _within(record, plan, again_s, to_s)
        return replace(second, faults=(*first.faults, *second.faults))
    part = replace(record, curve=Curve(time_s=time_s - from_s, temperature_c=kiln_c))
    followed = follow_plan(part, plan)
    return replace(
        followed,
        rates=tuple(
            replace(one, fastest_at_s=one.fastest_at_s + from_s)
            for one in followed.rates
        ),
        faults=tuple(
            replace(one, start_s=one.start_s + from_s, end_s=one.end_s + from_s)
            for one in followed.faults
        ),
    )


def _began_again(
    time_s: FloatArray, kiln_c: FloatArray, plan: Programme
) -> float | None:
    """Return when a controller began its programme again after a cut, if it did [s].

    A kiln that was on its way down by plan rises well above all of what was still to
    come.
    """
    segments = plan.segments
    hottest = max(range(len(segments)), key=lambda place: segments[place].target_c)
    to_come = [one.target_c for one in segments[hottest + 1 :]]
    peak_c = segments[hottest].target_c
    if not to_come or max(to_come) > peak_c - 2 * AGAIN_K:
        return None
    # Down from its hottest part once that was done; else down at the anneal.
    hot_s = np.where(kiln_c >= peak_c - NEAR_K, np.gradient(time_s), 0.0)
    is_done = np.cumsum(hot_s) >= DONE_SHARE * segments[hottest].hold_s
    was_hot = np.maximum.accumulate(kiln_c) >= peak_c - NEAR_K
    is_down = was_hot & (
        (kiln_c <= max(to_come) + NEAR_K) | (is_done & (kiln_c <= peak_c - 2 * AGAIN_K))
    )
    if not is_down.any():
        return None
    down = int(np.argmax(is_down))
    lowest_c = np.minimum.accumulate(kiln_c[down:])
    is_up = kiln_c[down:] > np.maximum(lowest_c, max(to_come)) + AGAIN_K
    if not is_up.any():
        return None
    up = down + int(np.argmax(is_up))
    lowest = up - int(np.argmin(kiln_c[down : up + 1][::-1]))
    again_s = float(time_s[lowest])
    return again_s if again_s > time_s[0] else None
