"""Whether a recorded firing did what was planned: holds, rates, cuts, lateness.

Temperatures and times only; `verdict` says what any of it did to the glass.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from firing.physics.judging.power_cuts import (
    ADJACENT,
    CutSpan,
    cut_spans,
    fallen_and_risen,
    fallen_while_heating,
)
from firing.physics.kiln.recorded import FilteredReadings
from firing.physics.refusals import Cause
from firing.physics.schedule import FloatArray, PhysicsProblem, Programme, Segment

# Rules of this project, without a source. A kiln is at its target within NEAR_K.
NEAR_K = 4.0
GRID_S, MOST_POINTS = 120.0, 40_000
# A rate is measured over the time that the plan takes for this fall, within limits.
RATE_OVER_K, RATE_LEAST_S, RATE_MOST_S = 5.0, 900.0, 6 * 3600.0
RATE_SHARE, RATE_LEAST_K = 1.15, 2.0
# Twice the planned rate must show through the doubt about a fall.
TELLING = 1.1
LEAST_POINTS = 3
# Kiln falls by this much more than planned, and this many times as fast: a cut.
CUT_OVER_S, CUT_TIMES, CUT_LEAST_K = 1200.0, 3.0, 8.0
# On the way up a kiln that falls this far is without power, however slowly it falls [K].
CUT_SLOWLY_K = 20.0
# A kiln that turns back within this time at its most was cut off there [s].
STAYS_S = 600.0
SHORT_LEAST_S, SHORT_SHARE = 600.0, 0.02
# By how much a controller may swing about its target besides the noise [K].
SWING_K = 1.0
LATE_LEAST_S, LATE_SHARE = 1800.0, 0.1
OVERSHOOT_K = 5.0
# The label of where a kiln was when a programme that only cools was typed.
FROM_HERE = "from here"


class FaultKind(StrEnum):
    """What went differently from the plan."""

    GAP = "gap"
    THERMOCOUPLE = "broken thermocouple"
    DOUBTFUL = "opened kiln or broken thermocouple"
    CUT = "cut"
    OVERSHOOT = "overshoot"
    NOT_REACHED = "not reached"
    SHORT_HOLD = "short hold"
    TOO_FAST = "too fast"
    LATE = "late"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that went differently from the plan.

    Attributes
    ----------
    kind : FaultKind
        What.
    segment : str
        Label of the planned segment, empty where readings are missing.
    start_s, end_s : float
        From when to when [s].
    start_c, end_c : float
        The kiln then [°C].
    amount : float
        Seconds without readings (GAP, THERMOCOUPLE), kelvin fallen (CUT), kelvin over
        or under the target (OVERSHOOT, NOT_REACHED), seconds missed (SHORT_HOLD),
        fastest rate [°C/h] (TOO_FAST), seconds (LATE).
    """

    kind: FaultKind
    segment: str
    start_s: float
    end_s: float
    start_c: float
    end_c: float
    amount: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldKept:
    """A planned hold and what happened.

    Attributes
    ----------
    segment : str
        Its label.
    target_c : float
        Temperature [°C].
    planned_s, held_s, missed_s : float
        Time at it: planned, within 4 K of it, and missing [s].
    """

    segment: str
    target_c: float
    planned_s: float
    held_s: float
    missed_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RateKept:
    """A planned ramp and what happened.

    Attributes
    ----------
    segment : str
        Its label.
    is_cooling : bool
        Whether it goes down.
    planned_c_per_h, fastest_c_per_h : float
        Planned, and the fastest over about 5 K of it [°C/h]; 0 where there were no
        readings in its range.
    exceeded_s : float
        How long it was more than 15 % too fast [s].
    fastest_at_s : float
        When it was fastest [s].
    """

    segment: str
    is_cooling: bool
    planned_c_per_h: float
    fastest_c_per_h: float
    exceeded_s: float
    fastest_at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """How a firing followed its plan.

    Attributes
    ----------
    holds : tuple of HoldKept
        Every planned hold.
    rates : tuple of RateKept
        Every ramp with a planned rate.
    faults : tuple of Fault
        In order of time.
    done : int
        How many of the plan's segments the kiln has got to the target of.
    """

    holds: tuple[HoldKept, ...]
    rates: tuple[RateKept, ...]
    faults: tuple[Fault, ...]
    done: int


@dataclass(frozen=True, slots=True)
class _Ramp:
    """A planned segment with the temperature it starts from and when it is over."""

    segment: Segment
    before_c: float
    ends_s: float

    @property
    def is_cooling(self) -> bool:
        return self.segment.target_c < self.before_c


def follow_plan(record: FilteredReadings, planned: Programme) -> Followed:
    """Compare a record with a plan.

    Parameters
    ----------
    record : FilteredReadings
        The firing.
    planned : Programme
        What was asked for.

    Returns
    -------
    Followed
        Holds, rates, faults.

    Raises
    ------
    PhysicsProblem
        If the plan never heats.

    Notes
    -----
    The hottest planned segment divides the record: what comes before the kiln first
    gets there is heating, what comes after it last was there is cooling. A hold counts
    the time within 4 K of its target, less what the ramps next to it spend there. A
    rate compares the fall over a while with the plan's own fall from the same
    temperature in the same time.

    References
    ----------
    Own rules, without a source.
    """
    ramps = _ramps(planned)
    step_s = max(GRID_S, record.lasts_s / MOST_POINTS)
    times = np.arange(0.0, record.lasts_s + step_s / 2, step_s)
    kiln_c = np.interp(times, record.curve.time_s, record.curve.temperature_c)
    hottest = max(range(len(ramps)), key=lambda place: ramps[place].segment.target_c)
    if ramps[hottest].is_cooling:
        raise PhysicsProblem(Cause.NEVER_HEATS)
    near = np.flatnonzero(kiln_c >= ramps[hottest].segment.target_c - NEAR_K)
    first, last = (
        (int(near[0]), int(near[-1])) if near.size else (int(np.argmax(kiln_c)),) * 2
    )
    was_hot = bool(near.size)
    parts = _Parts(times, kiln_c, first, last, step_s, record.doubt_k, was_hot)
    holds = tuple(
        _hold(ramps, place, hottest, parts)
        for place in range(len(ramps))
        if ramps[place].segment.hold_s > 0
    )
    rates = tuple(
        _rate(ramps, place, hottest, parts)
        for place in range(len(ramps))
        if ramps[place].segment.rate_c_per_h is not None
        and ramps[place].segment.target_c != ramps[place].before_c
    )
    done = _done(ramps, hottest, parts)
    cuts = _cuts(ramps, hottest, parts)
    faults = [
        *(
            _peak_faults(ramps[hottest], parts)
            if ramps[hottest].segment.label != FROM_HERE
            else ()
        ),
        *_short_holds(holds, ramps, hottest, parts, done),
        *_fast_rates(rates, parts),
    ]
    faults.sort(key=lambda fault: fault.start_s)
    cuts = [_widened(span, faults, parts) for span in cuts]
    for span in cuts:
        faults = _left_by(span, faults, parts)
    faults += [_cut(span, ramps, hottest, parts) for span in cuts]
    faults.sort(key=lambda fault: fault.start_s)
    return Followed(holds=holds, rates=rates, faults=tuple(faults), done=done)


@dataclass(frozen=True, slots=True)
class _Parts:
    """The record on an even grid, and where the hottest part begins and ends."""

    times: FloatArray
    kiln_c: FloatArray
    first: int
    last: int
    step_s: float
    doubt_k: float
    was_hot: bool

    def phase(self, place: int, hottest: int) -> slice:
        """Return where a segment before, at or after the hottest one may be."""
        if place < hottest:
            return slice(0, self.first + 1)
        if place == hottest:
            return slice(0, self.last + 1)
        return slice(self.last, self.times.size)


def _ramps(planned: Programme) -> list[_Ramp]:
    ramps, before_c, now_s = [], planned.start_c, 0.0
    for segment in planned.segments:
        if segment.rate_c_per_h is not None:
            now_s += abs(segment.target_c - before_c) / segment.rate_c_per_h * 3600
        now_s += segment.hold_s
        ramps.append(_Ramp(segment, before_c, now_s))
        before_c = segment.target_c
    return ramps


def _hold(ramps: list[_Ramp], place: int, hottest: int, parts: _Parts) -> HoldKept:
    segment = ramps[place].segment
    phase = parts.phase(place, hottest)
    if place == hottest:
        phase = slice(parts.first, parts.last + 1)
    near = np.abs(parts.kiln_c[phase] - segment.target_c) <= NEAR_K
    held_s = float(np.count_nonzero(near)) * parts.step_s
    rates = [segment.rate_c_per_h]
    # A kiln that is still at its target has not gone on to the next ramp.
    has_left = abs(float(parts.kiln_c[-1]) - segment.target_c) > NEAR_K
    if has_left and place + 1 < len(ramps):
        rates.append(ramps[place + 1].segment.rate_c_per_h)
    passing_s = sum(NEAR_K / rate * 3600 for rate in rates if rate)
    held_s = max(held_s - passing_s, 0.0)
    return HoldKept(
        segment=segment.label,
        target_c=segment.target_c,
        planned_s=segment.hold_s,
        held_s=held_s,
        missed_s=max(segment.hold_s - held_s, 0.0),
    )


def _planned_fall(
    ramps: list[_Ramp], hottest: int, from_c: FloatArray, over_s: float
) -> FloatArray:
    """Return how far the plan falls from each temperature in a time, holds left out [K].

    Above the first cooling stage with a rate the plan may fall as fast as it can.
    """
    points_c: list[float] = []
    points_s: list[float] = []
    now_s = 0.0
    for ramp in ramps[hottest + 1 :]:
        rate = ramp.segment.rate_c_per_h
        if not ramp.is_cooling:
            continue
        if not points_c:
            points_c.append(ramp.before_c)
            points_s.append(0.0)
        now_s += (ramp.before_c - ramp.segment.target_c) / rate * 3600 if rate else 1.0
        points_c.append(ramp.segment.target_c)
        points_s.append(now_s)
    if not points_c:
        return np.full(from_c.size, np.inf)
    falling_c, falling_s = np.array(points_c), np.array(points_s)
    at_s = np.interp(-from_c, -falling_c, falling_s)
    later_c = np.interp(at_s + over_s, falling_s, falling_c)
    fall: FloatArray = np.clip(from_c - later_c, 0.0, None)
    # Past its end the plan says nothing about rates: the kiln may cool by itself.
    fall[at_s + over_s > falling_s[-1]] = np.inf
    return fall


def _rate(ramps: list[_Ramp], place: int, hottest: int, parts: _Parts) -> RateKept:
    ramp = ramps[place]
    segment, planned = ramp.segment, ramp.segment.rate_c_per_h or 0.0
    over_k = max(RATE_OVER_K, TELLING * _doubt_k(parts))
    over_s = min(max(over_k / planned * 3600, RATE_LEAST_S), RATE_MOST_S)
    steps = max(round(over_s / parts.step_s), 1)
    over_s = steps * parts.step_s
    phase = parts.phase(place, hottest)
    times, kiln_c = parts.times[phase], parts.kiln_c[phase]
    if times.size <= steps:
        return _no_rate(ramp)
    now_c, later_c = kiln_c[:-steps], kiln_c[steps:]
    low_c, high_c = sorted((ramp.before_c, segment.target_c))
    if ramp.is_cooling:
        inside = (now_c > low_c) & (now_c <= high_c + NEAR_K)
        # What the next stage did is not this one's; but a kiln that fell through all
        # of it within the while did fall through it.
        if np.any(inside & (later_c >= low_c)):
            inside &= later_c >= low_c
        moved = now_c - later_c
        allowed = _planned_fall(ramps, hottest, np.minimum(now_c, high_c), over_s)
    else:
        inside = (now_c >= low_c) & (later_c <= high_c)
        moved = later_c - now_c
        allowed = np.full(moved.size, planned * over_s / 3600)
    # A kiln within its controller's swing of the stage's start is not yet on the ramp.
    over = inside & (
        moved > np.maximum(RATE_SHARE * allowed, allowed + _doubt_k(parts))
    )
    ours = inside & np.isfinite(allowed)
    if not ours.any():
        return _no_rate(ramp)
    if np.count_nonzero(over) < LEAST_POINTS:
        over = np.zeros_like(over)
    excess = np.where(over, moved - allowed, 0.0)
    candidates = over if over.any() else ours
    value = np.where(candidates, excess if over.any() else moved, -np.inf)
    at = int(np.argmax(value))
    return RateKept(
        segment=segment.label,
        is_cooling=ramp.is_cooling,
        planned_c_per_h=planned,
        fastest_c_per_h=max(float(moved[at]) / over_s * 3600, 0.0),
        # Each of them lasts this while.
        exceeded_s=(
            float(np.count_nonzero(over)) * parts.step_s + over_s if over.any() else 0.0
        ),
        fastest_at_s=float(times[at]),
    )


def _doubt_k(parts: _Parts) -> float:
    """Return what a fall may differ from the true one by: both its ends are in doubt."""
    return max(RATE_LEAST_K, 2 * parts.doubt_k)


def _no_rate(ramp: _Ramp) -> RateKept:
    return RateKept(
        segment=ramp.segment.label,
        is_cooling=ramp.is_cooling,
        planned_c_per_h=ramp.segment.rate_c_per_h or 0.0,
        fastest_c_per_h=0.0,
        exceeded_s=0.0,
        fastest_at_s=0.0,
    )


def _done(ramps: list[_Ramp], hottest: int, parts: _Parts) -> int:
    """Return how many segments in a row reached their target."""
    done = 0
    for place, ramp in enumerate(ramps):
        part = parts.kiln_c[parts.phase(place, hottest)]
        target_c = ramp.segment.target_c
        if place > hottest and not parts.was_hot:
            break
        if ramp.is_cooling:
            reached = bool(np.any(part <= target_c + NEAR_K))
        else:
            reached = bool(np.any(part >= target_c - NEAR_K))
        if not reached:
            break
        done = place + 1
    return done


def _peak_faults(ramp: _Ramp, parts: _Parts) -> list[Fault]:
    at = int(np.argmax(parts.kiln_c))
    over_k = float(parts.kiln_c[at]) - ramp.segment.target_c
    faults = []
    if over_k > OVERSHOOT_K or (not parts.was_hot and _is_past_peak(parts, at)):
        faults.append(
            _fault(
                FaultKind.OVERSHOOT if over_k > 0 else FaultKind.NOT_REACHED,
                ramp.segment.label,
                parts,
                at,
                at,
                abs(over_k),
            )
        )
    reached_s = float(parts.times[parts.first])
    planned_s = ramp.ends_s - ramp.segment.hold_s
    late_s = reached_s - planned_s
    if parts.was_hot and late_s > max(LATE_LEAST_S, LATE_SHARE * planned_s):
        faults.append(
            _fault(
                FaultKind.LATE,
                ramp.segment.label,
                parts,
                parts.first,
                parts.first,
                late_s,
            )
        )
    return faults


def _is_past_peak(parts: _Parts, at: int) -> bool:
    """Return whether the kiln has turned back well below its hottest."""
    return bool(parts.kiln_c[at] - parts.kiln_c[-1] > 10 * NEAR_K)


def _cuts(ramps: list[_Ramp], hottest: int, parts: _Parts) -> list[CutSpan]:
    steps = max(round(CUT_OVER_S / parts.step_s), 1)
    if parts.times.size <= steps:
        return []
    now_c, later_c = parts.kiln_c[:-steps], parts.kiln_c[steps:]
    fall = now_c - later_c
    places = np.arange(now_c.size)
    is_heating = places < parts.first
    if _turned_back(ramps, hottest, parts):
        is_heating[: _lowest_before_rise(parts)] = True
    allowed = np.where(
        is_heating,
        0.0,
        _planned_fall(ramps, hottest, now_c, steps * parts.step_s),
    )
    # A hold shorter than the while: the kiln has been up and is down again by plan.
    allowed = np.where(
        (places < parts.first) & (places + steps > parts.first), np.inf, allowed
    )
    # Down from the hottest part the kiln may fall as fast as it can.
    held = (places >= parts.first) & (places <= parts.last - steps)
    allowed = np.where(held, 0.0, allowed)
    is_cut = fall > CUT_TIMES * allowed + CUT_LEAST_K
    # Back from an overshoot is no cut.
    is_cut &= ~held | (later_c < ramps[hottest].segment.target_c - NEAR_K)
    up = int(np.count_nonzero(is_heating))
    is_cut[:up] |= fallen_while_heating(parts.kiln_c[:up], CUT_SLOWLY_K)
    down = slice(parts.last, now_c.size)
    if parts.was_hot and allowed[down].size:
        is_cut[down] |= fallen_and_risen(
            parts.kiln_c[parts.last :], allowed[down], CUT_LEAST_K, parts.doubt_k
        )
    return cut_spans(parts.kiln_c, allowed, is_cut, parts.doubt_k)


def _turned_back(ramps: list[_Ramp], hottest: int, parts: _Parts) -> bool:
    """Return whether a kiln on its way up fell from there and never got to its hottest.

    One that stays at its most for a while is weak, or was told to go no further; one
    that fell before has lost the time for it.
    """
    before_c = parts.kiln_c[: parts.first + 1]
    if parts.was_hot or fallen_while_heating(before_c, CUT_SLOWLY_K).any():
        return False
    top_c = float(parts.kiln_c[parts.first])
    ramp = next(one for one in ramps if one.segment.target_c >= top_c - NEAR_K)
    if ramp.segment.hold_s and abs(ramp.segment.target_c - top_c) <= NEAR_K:
        return ramp is not ramps[hottest]
    near_s = np.count_nonzero(parts.kiln_c >= top_c - NEAR_K) * parts.step_s
    rate = ramp.segment.rate_c_per_h
    rising_s = NEAR_K / rate * 3600 if rate else 0.0
    return bool(near_s <= 2 * rising_s + STAYS_S)


def _lowest_before_rise(parts: _Parts) -> int:
    """Return where a kiln that fell from its hottest is heated again, or its end."""
    after_c = parts.kiln_c[parts.first :]
    is_up = after_c > np.minimum.accumulate(after_c) + CUT_LEAST_K
    place = int(np.argmax(is_up)) if is_up.any() else after_c.size
    return parts.first + int(np.argmin(after_c[: place + 1]))


def _cut(span: CutSpan, ramps: list[_Ramp], hottest: int, parts: _Parts) -> Fault:
    fell_k = float(parts.kiln_c[span.start] - parts.kiln_c[span.end])
    label = _label_at(ramps, hottest, parts, span.start)
    return _fault(FaultKind.CUT, label, parts, span.start, span.end, fell_k)


def _widened(span: CutSpan, faults: list[Fault], parts: _Parts) -> CutSpan:
    """Return a cut with the fall before it that a fast plan hides: from a hold that was
    left too early, or too fast, and not heated until the cut is seen.
    """
    start = span.start
    for fault in reversed(faults):
        is_hold = fault.kind is FaultKind.SHORT_HOLD
        if not is_hold and fault.kind is not FaultKind.TOO_FAST:
            continue
        begins = fault.end_s if is_hold else fault.start_s
        place = int(np.searchsorted(parts.times, begins))
        fall_c = parts.kiln_c[place : start + 1]
        since_s = parts.times[start] - fault.end_s
        if parts.last <= place < start and 0 < since_s <= ADJACENT * CUT_OVER_S:
            rises_k = fall_c - np.minimum.accumulate(fall_c)
            if rises_k.max() <= max(RATE_LEAST_K, parts.doubt_k):
                start = place
    return CutSpan(start, span.end, span.back)


def _left_by(span: CutSpan, faults: list[Fault], parts: _Parts) -> list[Fault]:
    """Return the faults that are not only what a cut did to holds, rates and lateness.

    A cut is one event, told once. What comes of it goes on until the kiln is back, and
    while it makes up for the time it lost.
    """
    until_s = float(parts.times[span.back])
    left = []
    for fault in faults:
        if not _came_of(fault, span, until_s, parts):
            left.append(fault)
        elif fault.kind is FaultKind.TOO_FAST and fault.end_c > fault.start_c:
            until_s = max(until_s, fault.end_s)
    return left


def _came_of(fault: Fault, span: CutSpan, until_s: float, parts: _Parts) -> bool:
    start_s = float(parts.times[span.start])
    if fault.kind is FaultKind.OVERSHOOT:
        return False
    if fault.kind is FaultKind.NOT_REACHED:
        fell_from_c = float(parts.kiln_c[span.start])
        return start_s <= fault.start_s or fell_from_c >= fault.start_c - NEAR_K
    is_after = start_s < fault.start_s
    if is_after and fault.kind in (FaultKind.LATE, FaultKind.SHORT_HOLD):
        lost_s = until_s - start_s + LATE_LEAST_S
        if fault.amount <= lost_s:
            return True
    return fault.start_s <= until_s + CUT_OVER_S and start_s - CUT_OVER_S <= fault.end_s


def _label_at(ramps: list[_Ramp], hottest: int, parts: _Parts, at: int) -> str:
    """Return the planned segment that the kiln was in, by its temperature."""
    now_c = float(parts.kiln_c[at])
    # A kiln that never got to its hottest part was on its way up wherever it fell.
    heating = at < parts.first or not parts.was_hot
    for place, ramp in enumerate(ramps):
        if heating != (place <= hottest):
            continue
        low_c, high_c = sorted((ramp.before_c, ramp.segment.target_c))
        if low_c - NEAR_K <= now_c <= high_c + NEAR_K:
            return ramp.segment.label
    return ramps[hottest].segment.label


def _short_holds(
    holds: tuple[HoldKept, ...],
    ramps: list[_Ramp],
    hottest: int,
    parts: _Parts,
    done: int,
) -> list[Fault]:
    """Return holds that are over and were too short; one that still runs is not."""
    faults = []
    by_label = {hold.segment: hold for hold in holds}
    for place, ramp in enumerate(ramps[: max(done - 1, 0)]):
        hold = by_label.get(ramp.segment.label)
        if hold is None or not ramp.segment.hold_s:
            continue
        # How long a slow ramp takes to leave the target is only known within the noise.
        rates = [ramp.segment.rate_c_per_h]
        rates += [after.segment.rate_c_per_h for after in ramps[place + 1 : place + 2]]
        slowest = min((rate for rate in rates if rate), default=None)
        doubt_s = (SWING_K + parts.doubt_k) / slowest * 3600 if slowest else 0.0
        least_s = max(SHORT_LEAST_S, SHORT_SHARE * hold.planned_s, doubt_s)
        if hold.missed_s <= least_s:
            continue
        phase = parts.phase(place, hottest)
        near = np.flatnonzero(np.abs(parts.kiln_c[phase] - hold.target_c) <= 2 * NEAR_K)
        start = (phase.start or 0) + (int(near[0]) if near.size else 0)
        end = (phase.start or 0) + (int(near[-1]) if near.size else 0)
        faults.append(
            _fault(FaultKind.SHORT_HOLD, hold.segment, parts, start, end, hold.missed_s)
        )
    return faults


def _fast_rates(rates: tuple[RateKept, ...], parts: _Parts) -> list[Fault]:
    faults = []
    for rate in rates:
        if not rate.exceeded_s:
            continue
        at = int(np.searchsorted(parts.times, rate.fastest_at_s))
        end = min(at + int(rate.exceeded_s / parts.step_s), parts.times.size - 1)
        faults.append(
            _fault(
                FaultKind.TOO_FAST, rate.segment, parts, at, end, rate.fastest_c_per_h
            )
        )
    return faults


def _fault(
    kind: FaultKind, segment: str, parts: _Parts, start: int, end: int, amount: float
) -> Fault:
    return Fault(
        kind=kind,
        segment=segment,
        start_s=float(parts.times[start]),
        end_s=float(parts.times[end]),
        start_c=float(parts.kiln_c[start]),
        end_c=float(parts.kiln_c[end]),
        amount=amount,
    )
