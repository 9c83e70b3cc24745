"""Structural relaxation: how the glass follows its temperature, one step, compiled.

Tool, Narayanaswamy and Moynihan's model with a spectrum of times. The stress that comes
of it is in `stress`.
"""

import math

import numpy as np
from numpy.typing import NDArray

from firing.physics.slab.compiled import kernel

FloatArray = NDArray[np.float64]

# Above these, exp(-y) is nothing beside one; below, its series is exact to rounding.
ALL_RELAXED = 45.0
SERIES_BELOW = 0.02
# exp() of these neither overflows nor vanishes when it is multiplied by a step.
FASTEST, SLOWEST = 200.0, -200.0
CORRECTIONS = 3
GUESS_BEYOND_K = 50.0
# Of a reduced time over the shortest relaxation time: nothing moves in such a step.
FROZEN = 1e-10
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
    inverse = 1 / y
    if y > ALL_RELAXED:
        return 0.0, inverse, (1 - 2 * inverse) * inverse
    left = math.exp(-y)
    mean = (1 - left) * inverse
    return left, mean, (1 + left - 2 * mean) * inverse


@kernel
def decay_rates(y: float) -> tuple[float, float]:
    """Return the first two of `decay`, for those who need no drift.

    Parameters
    ----------
    y : float
        Reduced time over relaxation time, 0 or more.

    References
    ----------
    See `decay`.
    """
    if y < SERIES_BELOW:
        left = 1 - y * (1 - y / 2 * (1 - y / 3 * (1 - y / 4 * (1 - y / 5))))
        mean = 1 - y / 2 * (1 - y / 3 * (1 - y / 4 * (1 - y / 5 * (1 - y / 6))))
        return left, mean
    if y > ALL_RELAXED:
        return 0.0, 1 / y
    left = math.exp(-y)
    return left, (1 - left) / y


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
    before: FloatArray,
    after: FloatArray,
    fictive: FloatArray,
    fictive_slope: FloatArray,
    shift: FloatArray,
    parts: FloatArray,
    step_s: float,
    step_before_s: float,
    weights: FloatArray,
    speeds: FloatArray,
    activation: float,
    x: float,
    reference: float,
    hot: float,
    new_fictive: FloatArray,
    new_shift: FloatArray,
    new_parts: FloatArray,
    reduced: FloatArray,
) -> float:
    """Let the glass relax over a step in which its temperature runs straight.

    Parameters
    ----------
    before, after : ndarray, shape (n,)
        Temperature of each node at the ends of the step [K].
    fictive, fictive_slope, shift : ndarray, shape (n,)
        Fictive temperature [K], how it went in the step before [K/s], ln phi.
    parts : ndarray, shape (n, m)
        Partial fictive temperatures [K].
    step_s, step_before_s : float
        The step and the one before it, above 0 [s].
    weights, speeds : ndarray, shape (m,)
        The structural spectrum at the reference temperature: weights adding up to one,
        and one over each time [1/s].
    activation, x, reference : float
        As for `log_shift`.
    hot : float
        Glass hotter than this is relaxed before anything else can happen, and the
        error of its fictive temperature does not count [K].
    new_fictive, new_shift, new_parts, reduced : ndarray
        Written: fictive temperature, ln phi, its parts at the end, and the reduced
        time of the step [s].

    Returns
    -------
    float
        The worst estimated error of a fictive temperature in this step [K].

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
    n, m = parts.shape
    frozen_s = FROZEN / np.max(speeds)
    worst = 0.0
    for i in range(n):
        old, start, end = fictive[i], before[i], after[i]
        change = end - start
        # The bounds are against nonsense only: with several times it may leave the
        # range of the temperatures, as a glass remembers where it came from.
        guess = old + fictive_slope[i] * step_s
        guess = max(guess, min(old, start, end) - GUESS_BEYOND_K)
        guess = min(guess, max(old, start, end) + GUESS_BEYOND_K)
        shift_after = log_shift(end, guess, activation, x, reference)
        if step_s * math.exp(max(shift[i], shift_after)) < frozen_s:
            for j in range(m):
                new_parts[i, j] = parts[i, j]
            new_fictive[i], reduced[i] = old, 0.0
            new_shift[i] = log_shift(end, old, activation, x, reference)
            continue
        now, error, passed = guess, 0.0, 0.0
        for _ in range(CORRECTIONS):
            passed = reduced_time(shift[i], shift_after, step_s)
            drift = 0.5 * (shift_after - shift[i])
            now, lag, held = 0.0, 0.0, 0.0
            for j in range(m):
                left, mean, bent = decay(passed * speeds[j])
                new = end + (parts[i, j] - start) * left - change * mean
                new_parts[i, j] = new
                now += weights[j] * new
                lag += weights[j] * bent
                held += weights[j] * mean
            bow = abs(now - guess) * step_s / (6 * (step_s + step_before_s))
            error = abs(change * drift) * lag + bow * held
            better = log_shift(end, now, activation, x, reference)
            moved = abs(better - shift_after)
            shift_after = better
            if moved < SETTLED_SHIFT:
                break
            # No faster nor slower relaxation moves more than what moved in the step.
            error += min(moved, 1.0) * abs(now - old)
        new_fictive[i], new_shift[i], reduced[i] = now, shift_after, passed
        if min(start, end) < hot:
            worst = max(worst, error)
    return worst
