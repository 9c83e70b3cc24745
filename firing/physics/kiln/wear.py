"""How long a kiln was hot: what wears its elements and its thermocouple."""

from collections.abc import Sequence

import numpy as np

SECONDS_PER_HOUR = 3600.0


def hours_above(points: Sequence[tuple[float, float]], above_c: float) -> float:
    """Return for how long a curve of straight lines is above a temperature.

    Parameters
    ----------
    points : sequence of (float, float)
        Times [s] and temperatures [°C], in any order.
    above_c : float
        The temperature [°C].

    Returns
    -------
    float
        Hours; 0 with fewer than two points.
    """
    if len(points) < 2:
        return 0.0
    time_s, heat_c = np.array(sorted(points), dtype=float).T
    over = heat_c - above_c
    before, after, steps_s = over[:-1], over[1:], np.diff(time_s)
    rises = np.abs(after - before)
    # Of a line that crosses, the part above it is as its height is to the whole.
    highest = np.maximum(before, after)
    crossing = np.divide(highest, rises, out=np.zeros_like(rises), where=rises > 0)
    share = np.where(
        np.minimum(before, after) > 0, 1.0, np.where(highest > 0, crossing, 0.0)
    )
    return float(np.sum(share * steps_s)) / SECONDS_PER_HOUR
