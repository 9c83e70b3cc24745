"""Fewer points for the same curve: points a computation can do without are left out.

It knows arrays only; `recorded` removes noise before.
"""

import numpy as np

from firing.physics.refusals import Cause
from firing.physics.schedule import Curve, FloatArray, PhysicsProblem


def thin(time_s: FloatArray, temperature_c: FloatArray, *, within_k: float) -> Curve:
    """Return a curve of few points that stays within a tolerance of the given one.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
        Times that never decrease [s].
    temperature_c : ndarray, shape (n,)
        Temperatures [°C].
    within_k : float
        How far the thinned curve may lie off any given point [K], above zero.

    Returns
    -------
    Curve
        Some of the points, the first and the last among them.

    Raises
    ------
    PhysicsProblem
        If the tolerance is not above zero, or there is no point.

    Notes
    -----
    The point furthest from the straight line between two kept ones is kept, as long as
    it lies further off than the tolerance (measured in temperature, at its time).

    References
    ----------
    Ramer 1972, Douglas & Peucker 1973 (from memory), with the vertical distance.
    """
    if not within_k > 0:
        raise PhysicsProblem(Cause.TOLERANCE)
    if time_s.size == 0:
        raise PhysicsProblem(Cause.NOTHING_TO_KEEP)
    kept = np.zeros(time_s.size, dtype=np.bool_)
    kept[[0, -1]] = True
    spans = [(0, time_s.size - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        inner = slice(first + 1, last)
        lasts_s = time_s[last] - time_s[first]
        share = (time_s[inner] - time_s[first]) / lasts_s if lasts_s > 0 else 0.0
        line = temperature_c[first] + share * (
            temperature_c[last] - temperature_c[first]
        )
        off = np.abs(temperature_c[inner] - line)
        worst = int(np.argmax(off))
        if off[worst] > within_k:
            middle = first + 1 + worst
            kept[middle] = True
            spans += [(first, middle), (middle, last)]
    return Curve(time_s=time_s[kept], temperature_c=temperature_c[kept])
