"""Finds where a recorded kiln had no power at all, and where it had full power.

`fit` turns those stretches into numbers.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from firing.physics.kiln.recorded import LONGEST_GAP_S
from firing.physics.refusals import Cause
from firing.physics.schedule import Curve, FloatArray, PhysicsProblem, Programme

# All limits here are own rules, without a source.
# Below this above the room its temperature matters more than the kiln's [K].
WELL_ABOVE_K = 40.0
# A stretch is judged over this fall of ln(T - Ta); a ramp's rate over T - Ta changes by
# a quarter between the halves of one, a free fall's by nothing.
WINDOW_DROP = 0.5
HALVES_ALIKE = 0.08
FASTEST_ALIKE = 0.05
# Where the power goes off on a ramp, it does so without a kink: its first part may
# still be ramp.
START_DROP = 0.1
LEAST_DROP = 0.35
FEWEST_READINGS, FEWEST_OF_A_RISE = 8, 5
MOST_STARTS = 500
# Readings may wander by so much within a stretch [K]: what a window's rate is worth.
WANDER_K = 1.0
GROW_SIGMAS, GROW_LEAST_K = 3.0, 0.8
# A rise counts as full power where it is slower than this share of what was asked, over
# at least so many kelvins.
BEHIND_SHARE = 0.93
SLOPE_OVER_S = 1800.0
NEAR_TARGET_K = 10.0
LEAST_RISE_K = 60.0
FULL_HALVES_ALIKE = 0.12


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Part of a record: times [s], readings [°C], the room [°C], a first tau [s]."""

    time_s: FloatArray
    temperature_c: FloatArray
    ambient_c: float
    tau_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    """A fall with one rate [1/s], with its relative error, and where it is."""

    rate: float
    error_share: float
    first: int
    last: int


def free_falls(curve: Curve, *, ambient_c: float) -> tuple[Stretch, ...]:
    """Return the stretches in which the kiln falls as fast as it can.

    Parameters
    ----------
    curve : Curve
        Filtered readings [s, °C].
    ambient_c : float
        The room [°C].

    Returns
    -------
    tuple of Stretch
        In order of time; empty if it never falls freely over half a unit of
        ln(T - Ta) without a gap.

    Raises
    ------
    PhysicsProblem
        If the room is no number.

    Notes
    -----
    With u >= 0, -dT/dt / (T - Ta) <= 1/tau, equal only without power. A window counts
    if that ratio is the same in both halves, and is the largest found in the record.

    References
    ----------
    From the lumped kiln's equation; limits are own rules, without a source.
    """
    if not np.isfinite(ambient_c):
        raise PhysicsProblem(Cause.ROOM_NO_NUMBER)
    windows = [
        (window, part)
        for part in _parts(curve, ambient_c)
        for window in _windows(part, ambient_c)
    ]
    if not windows:
        return ()
    # Of many windows the one that noise favours looks fastest: so its error is taken off.
    fastest = max(w.rate * (1 - 2 * w.error_share) for w, _ in windows)
    falls: list[tuple[Curve, int, int]] = []
    for window, part in sorted(windows, key=lambda found: found[0].error_share):
        is_known = any(
            p is part and window.first <= last and window.last >= first
            for p, first, last in falls
        )
        slowest = (1 - FASTEST_ALIKE - 2 * window.error_share) * fastest
        if window.rate >= slowest and not is_known:
            falls.append((part, *_grown(part, window, ambient_c)))
    falls.sort(key=lambda fall: fall[0].time_s[fall[1]])
    return tuple(
        Stretch(
            time_s=part.time_s[first : last + 1],
            temperature_c=part.temperature_c[first : last + 1],
            ambient_c=ambient_c,
            tau_s=1 / fastest,
        )
        for part, first, last in falls
    )


def _parts(curve: Curve, ambient_c: float) -> Iterator[Curve]:
    """Cut a record at gaps, and where it is too near the room."""
    is_hot = curve.temperature_c >= ambient_c + WELL_ABOVE_K
    is_apart = np.diff(curve.time_s) > LONGEST_GAP_S
    cuts = np.flatnonzero(is_apart | (np.diff(is_hot.astype(int)) != 0)) + 1
    for part in np.split(np.arange(curve.time_s.size), cuts):
        if part.size >= FEWEST_READINGS and is_hot[part[0]]:
            yield Curve(
                time_s=curve.time_s[part], temperature_c=curve.temperature_c[part]
            )


def _windows(part: Curve, ambient_c: float) -> Iterator[_Window]:
    """Yield the windows over which a part falls at one rate."""
    above_k = part.temperature_c - ambient_c
    logs = np.log(above_k)
    for first in range(0, logs.size, max(1, logs.size // MOST_STARTS)):
        below = np.flatnonzero(logs[first:] <= logs[first] - WINDOW_DROP)
        if not below.size:
            continue
        last = first + int(below[0])
        half = first + int(np.argmax(logs[first:] <= logs[first] - WINDOW_DROP / 2))
        if min(half - first, last - half) < FEWEST_READINGS // 2 - 1:
            continue
        early = _slope(part.time_s[first : half + 1], logs[first : half + 1])
        late = _slope(part.time_s[half : last + 1], logs[half : last + 1])
        rate = -_slope(part.time_s[first : last + 1], logs[first : last + 1])
        share = WANDER_K / above_k[last] / WINDOW_DROP
        if rate > 0 and abs(early - late) <= (HALVES_ALIKE + 2 * share) * rate:
            yield _Window(rate=rate, error_share=float(share), first=first, last=last)


def _slope(times: FloatArray, values: FloatArray) -> float:
    off = times - times.mean()
    return float(off @ values / (off @ off))


def _grown(part: Curve, window: _Window, ambient_c: float) -> tuple[int, int]:
    """Stretch a window both ways while the readings stay on its exponential."""
    first, last = window.first, window.last
    logs = np.log(part.temperature_c - ambient_c)
    for _ in range(3):
        inside = slice(first, last + 1)
        slope = _slope(part.time_s[inside], logs[inside])
        middle = logs[inside].mean() - slope * part.time_s[inside].mean()
        off_k = part.temperature_c - ambient_c - np.exp(middle + slope * part.time_s)
        sigma = 1.4826 * float(np.median(np.abs(off_k[inside])))
        is_off = np.abs(off_k) > max(GROW_SIGMAS * sigma, GROW_LEAST_K)
        # Two in a row: one reading off is noise.
        ends = np.flatnonzero(is_off[1:] & is_off[:-1])
        centre = (first + last) // 2
        before, after = ends[ends < centre], ends[ends >= centre]
        first = int(before[-1]) + 2 if before.size else 0
        last = int(after[0]) if after.size else logs.size - 1
    late = np.flatnonzero(logs[first : last + 1] <= logs[first] - START_DROP)
    if late.size and logs[first + int(late[0])] - logs[last] >= LEAST_DROP:
        first += int(late[0])
    return first, last


def full_power_rises(
    curve: Curve, schedule: Programme, *, ambient_c: float, tau_s: float
) -> tuple[Stretch, ...]:
    """Return the stretches in which the kiln rises slower than it was asked to.

    Parameters
    ----------
    curve : Curve
        Filtered readings [s, °C].
    schedule : Programme
        What was asked.
    ambient_c : float
        The room [°C].
    tau_s : float
        Cooling time constant [s].

    Returns
    -------
    tuple of Stretch
        In order of time; those that do not follow one full power are left out.

    Raises
    ------
    PhysicsProblem
        If tau is not above zero.

    Notes
    -----
    Tf = T + tau dT/dt is the same all along a rise at one power; it is compared between
    the two halves of each.

    References
    ----------
    From the lumped kiln's equation; limits are own rules, without a source.
    """
    if not tau_s > 0:
        raise PhysicsProblem(Cause.COOLING_TIME)
    found: list[Stretch] = []
    for part in _parts(curve, ambient_c):
        slopes = _local_slopes(part)
        asked = _asked_k_per_s(part.temperature_c, schedule)
        is_full = (slopes > 0) & (slopes < BEHIND_SHARE * asked)
        cuts = np.flatnonzero(np.diff(is_full.astype(int)) != 0) + 1
        found += [
            Stretch(
                time_s=part.time_s[run],
                temperature_c=part.temperature_c[run],
                ambient_c=ambient_c,
                tau_s=tau_s,
            )
            for run in np.split(np.arange(part.time_s.size), cuts)
            if is_full[run[0]] and _is_one_power(part, run, ambient_c, tau_s)
        ]
    return tuple(found)


def least_full_power_c(curve: Curve, *, ambient_c: float, tau_s: float) -> float | None:
    """Return what full power would reach at least, by the steepest rise of a record.

    Parameters
    ----------
    curve : Curve
        Filtered readings [s, °C].
    ambient_c : float
        The room [°C].
    tau_s : float
        Cooling time constant [s].

    Returns
    -------
    float or None
        Temperature [°C]; none if it never rises well above the room.

    Raises
    ------
    PhysicsProblem
        If tau is not above zero.

    Notes
    -----
    T + tau dT/dt = Ta + u (Tf - Ta), and u <= 1. Slopes are over half an hour, less
    twice what a wander of 1 K makes of one.

    References
    ----------
    From the lumped kiln's equation; limits are own rules, without a source.
    """
    if not tau_s > 0:
        raise PhysicsProblem(Cause.COOLING_TIME)
    least = []
    for part in _parts(curve, ambient_c):
        slopes = _local_slopes(part)
        ends = part.time_s[[0, -1]]
        is_round = np.min(np.abs(part.time_s[:, None] - ends), axis=1) >= (
            SLOPE_OVER_S / 2
        )
        sure = slopes - 2 * WANDER_K / SLOPE_OVER_S
        is_rise = is_round & (sure > 0)
        if np.any(is_rise):
            reach_c = part.temperature_c[is_rise] + tau_s * sure[is_rise]
            least.append(float(np.max(reach_c)))
    return max(least, default=None)


def _local_slopes(part: Curve) -> FloatArray:
    """Return dT/dt round each reading, over half an hour [K/s]; nan where unknown."""
    lows = np.searchsorted(part.time_s, part.time_s - SLOPE_OVER_S / 2)
    highs = np.searchsorted(part.time_s, part.time_s + SLOPE_OVER_S / 2, side="right")
    slopes = np.full(part.time_s.size, np.nan)
    for index, (low, high) in enumerate(zip(lows, highs, strict=True)):
        # A window cut off at an end of the part is not round its reading.
        if high - low >= 3:
            slopes[index] = _slope(part.time_s[low:high], part.temperature_c[low:high])
    return slopes


def _asked_k_per_s(temperature_c: FloatArray, schedule: Programme) -> FloatArray:
    """Return the rate asked of a rising kiln at each temperature; zero near targets."""
    asked = np.zeros(temperature_c.size)
    before_c = schedule.start_c
    for segment in schedule.segments:
        if segment.target_c > before_c:
            rate = np.inf if segment.rate_c_per_h is None else segment.rate_c_per_h
            is_here = (temperature_c > before_c + NEAR_TARGET_K) & (
                temperature_c < segment.target_c - NEAR_TARGET_K
            )
            # Where two segments pass, the slower one is what it may have been asked.
            known = np.where(asked > 0, np.minimum(asked, rate / 3600), rate / 3600)
            asked = np.where(is_here, known, asked)
        before_c = segment.target_c
    return asked


def _is_one_power(part: Curve, run: np.ndarray, ambient_c: float, tau_s: float) -> bool:
    times, kiln_c = part.time_s[run], part.temperature_c[run]
    if run.size < FEWEST_OF_A_RISE or kiln_c[-1] - kiln_c[0] < LEAST_RISE_K:
        return False
    half = run.size // 2
    early, late = (
        float(np.mean(kiln_c[side])) + tau_s * _slope(times[side], kiln_c[side])
        for side in (slice(0, half), slice(half, None))
    )
    reach_k = (early + late) / 2 - ambient_c
    return bool(abs(early - late) <= FULL_HALVES_ALIKE * reach_k)
