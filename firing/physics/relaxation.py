"""Structural relaxation: how the glass follows its temperature, one step, compiled.

Tool, Narayanaswamy and Moynihan's model with a spectrum of times. The stress that comes
of it is in `stress`.
"""

import math

import numpy as np
from numpy.typing import NDArray

from firing.physics.compiled import kernel

FloatArray = NDArray[np.float64]

# Above these, exp(-y) is nothing beside one; below, its series is exact to rounding.
ALL_RELAXED = 45.0
SERIES_BELOW = 0.02
# exp() of these neither overflows nor vanishes when it is multiplied by a step.
FASTEST, SLOWEST = 200.0, -200.0
CORRECTIONS = 3
SETTLED_SHIFT = 1e-3


@kernel
def decay(y: float) -> tuple[float, float, float]:
    """Return exp(-y), (1 - exp(-y))/y and ((1 + exp(-y))/y - 2 (1 - exp(-y))/y²).

    Parameters
    ----------
    y : float
        Reduced time over relaxation time, 0 or more.

    Notes
    -----
    The third is y times the integral of u (1 - u) exp(-y u) over 0..1: how much a
    shift that drifts within the step changes what is left at its end.

    References
    ----------
    Elementary; the series keeps small y free of cancellation.
    """
    if y < SERIES_BELOW:
        left = 1 - y * (1 - y / 2 * (1 - y / 3 * (1 - y / 4 * (1 - y / 5))))
        mean = 1 - y / 2 * (1 - y / 3 * (1 - y / 4 * (1 - y / 5 * (1 - y / 6))))
        drift = y * (1 / 6 - y * (1 / 12 - y * (1 / 40 - y / 180)))
        return left, mean, drift
    if y > ALL_RELAXED:
        return 0.0, 1 / y, (1 - 2 / y) / y
    left = math.exp(-y)
    mean = (1 - left) / y
    return left, mean, (1 + left - 2 * mean) / y


@kernel
def log_shift(
    t: float, fictive: float, activation: float, x: float, reference: float
) -> float:
    """Return ln phi, the speed of relaxation against that at the reference.

    Parameters
    ----------
    t, fictive, reference : float
        Temperature, fictive temperature, reference temperature [K].
    activation : float
        H/R [K].
    x : float
        Nonlinearity, 0 to 1.

    Notes
    -----
    phi = exp{(H/R) [1/T_ref - x/T - (1 - x)/Tf]}, kept within exp(+-200).

    References
    ----------
    Narayanaswamy 1971, Moynihan et al. 1976 (from memory).
    """
    shift = activation * (1 / reference - x / t - (1 - x) / fictive)
    return min(max(shift, SLOWEST), FASTEST)


@kernel
def reduced_time(before: float, after: float, step_s: float) -> float:
    """Return the integral of phi over a step [s], ln phi running straight.

    Parameters
    ----------
    before, after : float
        ln phi at the ends.
    step_s : float
        The step [s].

    Notes
    -----
    The step times the logarithmic mean of phi's two ends.

    References
    ----------
    Elementary integration.
    """
    drift = after - before
    if abs(drift) < 1e-4:
        return step_s * math.exp(before + 0.5 * drift)
    return step_s * (math.exp(after) - math.exp(before)) / drift


@kernel
def relax_step(
    before: float,
    after: float,
    parts: FloatArray,
    shift_before: float,
    guess: float,
    step_s: float,
    step_before_s: float,
    weights: FloatArray,
    times: FloatArray,
    activation: float,
    x: float,
    reference: float,
    new_parts: FloatArray,
) -> tuple[float, float, float, float]:
    """Let one place of the glass relax while its temperature runs straight.

    Parameters
    ----------
    before, after : float
        Temperature at the ends of the step [K].
    parts, new_parts : ndarray, shape (m,)
        Partial fictive temperatures before; written, after [K].
    shift_before : float
        ln phi at the start.
    guess : float
        The fictive temperature at the end if it went on straight [K].
    step_s, step_before_s : float
        The step and the one before it, above 0 [s].
    weights, times : ndarray, shape (m,)
        The structural spectrum at the reference temperature, weights adding up to one.
    activation, x, reference : float
        As for `log_shift`.

    Returns
    -------
    tuple of 4 floats
        Fictive temperature [K] and ln phi at the end, reduced time of the step [s],
        and an estimate of the step's error in the fictive temperature [K].

    Notes
    -----
    dTf_i/dt = phi (T - Tf_i)/tau_i, Tf = sum C_i Tf_i. With y = (reduced time)/tau_i:
    Tf_i <- T_new + (Tf_i - T_old) exp(-y) - (T_new - T_old)(1 - exp(-y))/y, exact for
    a constant phi; phi's end depends on the result, so it is corrected until ln phi
    stands still. The error is the sum of what a straight drift of phi within the step
    would add; of how far the fictive temperature bows from a straight line within it
    (a parabola through its last three values lies h²/12 of its second derivative off
    its chord in the mean), as far as the glass still holds it; and of what the last
    correction still changed.

    References
    ----------
    Tool 1946, Narayanaswamy 1971, Moynihan et al. 1976; Markovsky & Soules 1984 for
    the scheme this one refines (all from memory).
    """
    change = after - before
    shift_after = log_shift(after, guess, activation, x, reference)
    fictive, error, reduced = guess, 0.0, 0.0
    for _ in range(CORRECTIONS):
        reduced = reduced_time(shift_before, shift_after, step_s)
        drift = 0.5 * (shift_after - shift_before)
        fictive, lag, held, old = 0.0, 0.0, 0.0, 0.0
        for j in range(parts.shape[0]):
            left, mean, bent = decay(reduced / times[j])
            new = after + (parts[j] - before) * left - change * mean
            new_parts[j] = new
            fictive += weights[j] * new
            old += weights[j] * parts[j]
            lag += weights[j] * bent
            held += weights[j] * mean
        bow = abs(fictive - guess) * step_s / (6 * (step_s + step_before_s))
        error = abs(change * drift) * lag + bow * held
        better = log_shift(after, fictive, activation, x, reference)
        moved = abs(better - shift_after)
        shift_after = better
        if moved < SETTLED_SHIFT:
            break
        # No faster nor slower relaxation moves more than what moved in the step.
        error += min(moved, 1.0) * abs(fictive - old)
    return fictive, shift_after, reduced, error
