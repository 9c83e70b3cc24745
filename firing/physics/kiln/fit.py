"""What recorded firings say about their kiln: its cooling time and its holding power.

`model` is the model that is fitted; `recorded` filters readings, and `stretches` finds
the useful stretches of a record.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firing.physics.kiln.recorded import filtered_readings
from firing.physics.kiln.stretches import (
    Stretch,
    free_falls,
    full_power_rises,
    least_full_power_c,
)
from firing.physics.refusals import Cause, celsius
from firing.physics.schedule import Curve, FloatArray, PhysicsProblem, Programme

HUBER_SIGMAS, HUBER_ROUNDS = 2.0, 5
MOST_ROUNDS, CLOSE_SHARE = 30, 1e-6
# A thermocouple wanders rather than jumps: readings so much apart share 1/e of what is
# wrong with them [s]. Own rule, without a source; it makes errors larger, not smaller.
WANDER_S = 2700.0
MOST_CORRELATED = 600
# A firing whose cooling differs more than this from the middle one was another kiln's
# state: a lid ajar, a huge load. Own rule, without a source.
APART_SHARE, APART_SIGMAS = 0.15, 4.0
# A reading of 1 °C or 1 °F steps is known no better than this [K].
LEAST_NOISE_K = 0.1
AMBIENT_WITHIN_K = 5.0
COLDEST_ROOM_C, HOTTEST_ROOM_C = -10.0, 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedFiring:
    """A firing's readings, with what was asked of the kiln where that is known.

    Attributes
    ----------
    time_s : ndarray, shape (n,)
        Times that never decrease [s].
    temperature_c : ndarray, shape (n,)
        Readings [°C].
    schedule : Programme or None
        The programme; without it full power cannot be told from a slow ramp.
    """

    time_s: FloatArray
    temperature_c: FloatArray
    schedule: Programme | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A number that was fitted.

    Attributes
    ----------
    value : float
        Most likely value, in the unit that the field's name says.
    standard_error : float
        One standard deviation of it; zero if it was given.
    readings : int
        How many filtered readings it rests on.
    firings : int
        How many firings they came from.
    """

    value: float
    standard_error: float
    readings: int
    firings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnFit:
    """What was found out about a kiln.

    Attributes
    ----------
    cooling_time_constant_s : Measured
        Time in which, switched off, its distance to the room falls to 1/e [s].
    ambient_c : Measured
        The room [°C], given or fitted.
    full_power_holds_c : Measured or None
        Temperature that full power would reach after a very long time [°C].
    holding_fraction : Measured or None
        Share of the power that holds the highest temperature.
    holding_problem : str
        Cause those two cannot be known from these firings; empty if they are.
    holding_at_most : float or None
        What the holding fraction is at most, by the steepest rise, where it cannot be
        known; none if nothing rose.
    left_out : tuple of int
        Which firings, from 0, cooled unlike the others and were not used.
    """

    cooling_time_constant_s: Measured
    ambient_c: Measured
    full_power_holds_c: Measured | None
    holding_fraction: Measured | None
    holding_problem: str
    holding_at_most: float | None
    left_out: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Estimate:
    value: float
    error: float
    readings: int
    firing: int
    ambient_c: float = math.nan
    ambient_error: float = 0.0


def fit_kiln(
    firings: Sequence[RecordedFiring],
    *,
    max_temperature_c: float,
    ambient_c: float | None,
) -> KilnFit:
    """Fit a kiln's cooling time and holding power to recorded firings.

    Parameters
    ----------
    firings : sequence of RecordedFiring
        One or several firings of the same kiln.
    max_temperature_c : float
        Highest temperature that the kiln is rated for [°C].
    ambient_c : float or None
        Room temperature [°C], -10 to 50; None fits it, which needs a record that goes
        on until the kiln is nearly cold.

    Returns
    -------
    KilnFit
        Values with their standard errors, and what cannot be known.

    Raises
    ------
    PhysicsProblem
        If there is no firing, if readings are out of order or no kiln temperatures, if
        the kiln never falls freely for long enough, or if the room is to be fitted and
        the record ends too hot for it.

    Notes
    -----
    The kiln is C dT/dt = P u - UA (T - Ta), tau = C/UA. Without power
    T = Ta + (T0 - Ta) exp(-t/tau): no programme makes it fall faster, and a ramp never
    keeps dT/dt / (T - Ta) constant, so that free stretches, power cuts among them, are
    told from the readings alone. At full power T = Tf - (Tf - T0) exp(-t/tau) with
    Tf = Ta + P/UA; those stretches are where the kiln rises slower than was asked. The
    holding fraction is (Tmax - Ta)/(Tf - Ta).

    Least squares with Huber's weights; the errors are those of the covariance
    A R A', with A the pseudo-inverse and R the correlation exp(-|t - t'|/45 min) of
    readings that wander. Stretches are combined by weights 1/error², and widened by the square root of chi²/(n - 1) where
    they differ more than their errors say.

    References
    ----------
    First-order lumped capacitance and weighted least squares, as in any textbook; the
    limits of what counts as a stretch are own rules, without a source (from memory).
    """
    _check(firings, max_temperature_c, ambient_c)
    curves = [filtered_readings(one.time_s, one.temperature_c) for one in firings]
    found = []
    for number, curve in enumerate(curves):
        for stretch in free_falls(curve, ambient_c=_first_ambient_c(curve, ambient_c)):
            estimate = _fall(stretch, number, ambient_c)
            if estimate is not None:
                found.append(estimate)
    if not found:
        raise PhysicsProblem(Cause.NEVER_FALLS_FREELY)
    kept, left_out = _alike(found)
    tau = _combined(kept)
    room = _room(kept, ambient_c)
    full = _full_power(firings, curves, tau, room.value, left_out)
    known = full is not None and full.value > room.value
    return KilnFit(
        cooling_time_constant_s=tau,
        ambient_c=room,
        full_power_holds_c=full if known else None,
        holding_fraction=_fraction(full, room, max_temperature_c)
        if full is not None and known
        else None,
        holding_problem="" if known else _why_not(firings),
        holding_at_most=None
        if known
        else _at_most(curves, tau, room.value, max_temperature_c, left_out),
        left_out=left_out,
    )


def _check(
    firings: Sequence[RecordedFiring], max_temperature_c: float, ambient_c: float | None
) -> None:
    if not firings:
        raise PhysicsProblem(Cause.NO_FIRING)
    if ambient_c is not None and not COLDEST_ROOM_C <= ambient_c <= HOTTEST_ROOM_C:
        raise PhysicsProblem(
            Cause.ROOM,
            low=celsius(COLDEST_ROOM_C),
            high=celsius(HOTTEST_ROOM_C),
            given=celsius(ambient_c),
        )
    if not 100 <= max_temperature_c <= 1700:
        raise PhysicsProblem(
            Cause.HIGHEST,
            low=celsius(100),
            high=celsius(1700),
            given=celsius(max_temperature_c),
        )


def _first_ambient_c(curve: Curve, ambient_c: float | None) -> float:
    if ambient_c is not None:
        return ambient_c
    return min(20.0, float(np.min(curve.temperature_c)) - 1.0)


def _fall(stretch: Stretch, firing: int, ambient_c: float | None) -> _Estimate | None:
    """Fit T = Ta + B exp(-t/tau) to a free fall; the room too when it is not given."""
    times = stretch.time_s - stretch.time_s[0]
    room_c = stretch.ambient_c if ambient_c is None else ambient_c
    above_k, tau_s = stretch.temperature_c[0] - room_c, stretch.tau_s
    covariance = np.zeros((3, 3))
    for _ in range(MOST_ROUNDS):
        decay = np.exp(-times / tau_s)
        columns = [decay, above_k * decay * times / tau_s**2]
        if ambient_c is None:
            columns.append(np.ones_like(decay))
        left_k = stretch.temperature_c - room_c - above_k * decay
        step, covariance = _least_squares(np.column_stack(columns), left_k, times)
        above_k += step[0]
        tau_s += float(np.clip(step[1], -tau_s / 2, tau_s))
        room_c += step[2] if ambient_c is None else 0.0
        # Huber's weights may make it swing a little for ever.
        if abs(step[1]) < max(CLOSE_SHARE * tau_s, covariance[1, 1] ** 0.5 / 100):
            break
    else:
        return None
    return _Estimate(
        value=float(tau_s),
        error=float(covariance[1, 1] ** 0.5),
        readings=times.size,
        firing=firing,
        ambient_c=float(room_c),
        ambient_error=float(covariance[2, 2] ** 0.5) if ambient_c is None else 0.0,
    )


def _least_squares(
    design: FloatArray, values: FloatArray, times: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Solve by Huber's weights; return the solution and its covariance."""
    weights = np.ones(values.size)
    scale = np.linalg.norm(design, axis=0)
    scaled = design / scale
    solution, left, sigma = np.zeros(design.shape[1]), np.abs(values), LEAST_NOISE_K
    for _ in range(HUBER_ROUNDS):
        root = np.sqrt(weights)
        solution = np.linalg.lstsq(scaled * root[:, None], values * root, rcond=None)[0]
        left = np.abs(values - scaled @ solution)
        sigma = max(float(np.median(left)) / 0.6745, LEAST_NOISE_K)
        weights = np.minimum(1.0, HUBER_SIGMAS * sigma / np.maximum(left, 1e-12))
    covariance = _covariance(scaled, np.minimum(left, HUBER_SIGMAS * sigma), times)
    return solution / scale, covariance / np.outer(scale, scale)


def _covariance(design: FloatArray, left: FloatArray, times: FloatArray) -> FloatArray:
    """Return A R A', with A the pseudo-inverse and R what wandering readings share."""
    every = -(-times.size // MOST_CORRELATED)
    design, left, times = design[::every], left[::every], times[::every]
    shared = np.exp(-np.abs(times[:, None] - times[None, :]) / WANDER_S)
    inverse = np.linalg.pinv(design)
    # Of the noise the fit has swallowed a share, the more so the more it wanders.
    free = float(np.trace(shared) - np.sum((design @ inverse) * shared))
    noise_k2 = max(float(left @ left) / max(free, 1e-9), LEAST_NOISE_K**2)
    covariance: FloatArray = noise_k2 * inverse @ shared @ inverse.T
    return covariance


def _alike(found: Sequence[_Estimate]) -> tuple[list[_Estimate], tuple[int, ...]]:
    """Keep the stretches of firings that cool like the middle one."""
    middle = float(np.median([one.value for one in found]))
    kept = [
        one
        for one in found
        if abs(one.value - middle)
        <= max(APART_SHARE * middle, APART_SIGMAS * min(one.error, middle / 10))
    ]
    # Of two firings that disagree, neither is the middle one: their spread shows it.
    kept = kept or list(found)
    used = {one.firing for one in kept}
    return kept, tuple(sorted({one.firing for one in found} - used))


def _combined(found: Sequence[_Estimate]) -> Measured:
    values = np.array([one.value for one in found])
    weights = np.array([1 / max(one.error, 1e-9) ** 2 for one in found])
    mean = float(values @ weights / weights.sum())
    error = float(weights.sum() ** -0.5)
    if values.size > 1:
        spread = float(weights @ (values - mean) ** 2) / (values.size - 1)
        error *= max(1.0, spread**0.5)
    return Measured(
        value=mean,
        standard_error=error,
        readings=sum(one.readings for one in found),
        firings=len({one.firing for one in found}),
    )


def _room(kept: Sequence[_Estimate], ambient_c: float | None) -> Measured:
    if ambient_c is not None:
        return Measured(value=ambient_c, standard_error=0.0, readings=0, firings=0)
    rooms = _combined(
        [
            _Estimate(
                value=one.ambient_c,
                error=one.ambient_error,
                readings=one.readings,
                firing=one.firing,
            )
            for one in kept
        ]
    )
    is_likely = COLDEST_ROOM_C <= rooms.value <= HOTTEST_ROOM_C
    if rooms.standard_error > AMBIENT_WITHIN_K or not is_likely:
        raise PhysicsProblem(Cause.ENDS_TOO_HOT)
    return rooms


def _full_power(
    firings: Sequence[RecordedFiring],
    curves: Sequence[Curve],
    tau: Measured,
    ambient_c: float,
    left_out: tuple[int, ...],
) -> Measured | None:
    """Fit Tf to the rises at full power, with the error that tau's brings along."""
    stretches = [
        (number, stretch)
        for number, (one, curve) in enumerate(zip(firings, curves, strict=True))
        if one.schedule is not None and number not in left_out
        for stretch in full_power_rises(
            curve, one.schedule, ambient_c=ambient_c, tau_s=tau.value
        )
    ]
    if not stretches:
        return None
    middle = _combined([_rise(s, number, tau.value) for number, s in stretches])
    other = _combined(
        [_rise(s, n, tau.value + tau.standard_error) for n, s in stretches]
    )
    return Measured(
        value=middle.value,
        standard_error=math.hypot(middle.standard_error, other.value - middle.value),
        readings=middle.readings,
        firings=middle.firings,
    )


def _at_most(
    curves: Sequence[Curve],
    tau: Measured,
    ambient_c: float,
    max_temperature_c: float,
    left_out: tuple[int, ...],
) -> float | None:
    tau_s = max(tau.value - 2 * tau.standard_error, tau.value / 2)
    least = [
        least_full_power_c(curve, ambient_c=ambient_c, tau_s=tau_s)
        for number, curve in enumerate(curves)
        if number not in left_out
    ]
    reach_c = max((one for one in least if one is not None), default=None)
    if reach_c is None:
        return None
    return (max_temperature_c - ambient_c) / (reach_c - ambient_c)


def _rise(stretch: Stretch, firing: int, tau_s: float) -> _Estimate:
    """Fit T = Tf - (Tf - T0) exp(-t/tau), with tau given: linear in Tf and T0."""
    decay = np.exp(-(stretch.time_s - stretch.time_s[0]) / tau_s)
    design = np.column_stack([1 - decay, decay])
    solution, covariance = _least_squares(design, stretch.temperature_c, stretch.time_s)
    return _Estimate(
        value=float(solution[0]),
        error=float(covariance[0, 0] ** 0.5),
        readings=decay.size,
        firing=firing,
    )


def _fraction(full: Measured, room: Measured, max_temperature_c: float) -> Measured:
    reach_k = full.value - room.value
    value = (max_temperature_c - room.value) / reach_k
    # d/dTf = -f / (Tf - Ta); d/dTa = (f - 1) / (Tf - Ta)
    error = math.hypot(value * full.standard_error, (value - 1) * room.standard_error)
    return Measured(
        value=value,
        standard_error=error / reach_k,
        readings=full.readings,
        firings=full.firings,
    )


def _why_not(firings: Sequence[RecordedFiring]) -> str:
    if all(one.schedule is None for one in firings):
        return (
            "The holding power cannot be known from readings without their schedule: "
            "full power looks like a slow ramp."
        )
    return (
        "The holding power cannot be known from these firings: the kiln kept up with "
        "every ramp, so it never showed its full power for long enough."
    )
