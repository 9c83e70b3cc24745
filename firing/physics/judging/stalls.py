"""Where a kiln stands still though its programme wants it to go on.

Arrays only; `watching` makes events of them.
"""

import numpy as np

from firing.physics.judging.plan_following import GRID_S, NEAR_K
from firing.physics.schedule import FloatArray, Programme

# Rules of this project, without a source. Over so long a kiln that is asked to move by
# at least LEAST_K moves by at least this share of it.
WINDOW_S, LEAST_K, MOVES_SHARE = 1800.0, 8.0, 0.15
# What a kiln at full power makes at the least in WINDOW_S, where no rate is asked [K].
FULL_POWER_K = 20.0
# Stops so close to each other are one [s].
APART_S = 1800.0


def stalls(
    time_s: FloatArray,
    kiln_c: FloatArray,
    planned: Programme,
    *,
    time_constant_s: float,
    room_c: float,
) -> list[tuple[int, int]]:
    """Return the first and last place of each time in which a kiln stood still.

    Parameters
    ----------
    time_s, kiln_c : ndarray, shape (n,)
        The kiln on an even grid of `GRID_S` [s, °C].
    planned : Programme
        What it is told.
    time_constant_s, room_c : float
        How it cools by itself [s, °C]: no kiln is told to fall faster than that.

    Notes
    -----
    Up to the hottest segment it should rise, after it fall. Near a target with a hold it
    may stand; a kiln that falls on its way up is without power, which is not this.

    References
    ----------
    Own rules, without a source.
    """
    steps = round(WINDOW_S / GRID_S)
    if kiln_c.size <= steps:
        return []
    peak_c = planned.peak_c
    near = np.flatnonzero(kiln_c >= peak_c - NEAR_K)
    first, last = (
        (int(near[0]), int(near[-1])) if near.size else (kiln_c.size, kiln_c.size)
    )
    now_c, later_c = kiln_c[:-steps], kiln_c[steps:]
    places = np.arange(now_c.size)
    rise_k = _asked_rise(planned, now_c)
    is_stalled = (
        (places + steps < first)
        & (rise_k >= LEAST_K)
        & (later_c - now_c < MOVES_SHARE * rise_k)
        & (later_c > now_c - LEAST_K / 2)
    )
    fall_k = np.minimum(
        _asked_fall(planned, now_c),
        (now_c - room_c) * (1 - np.exp(-WINDOW_S / time_constant_s)),
    )
    is_stalled |= (
        (places > last)
        & (fall_k >= LEAST_K)
        & (now_c - later_c < MOVES_SHARE * fall_k)
        & (later_c < now_c + LEAST_K / 2)
    )
    return _spans(is_stalled, steps, kiln_c)


def _asked_rise(planned: Programme, now_c: FloatArray) -> FloatArray:
    """Return how far the programme rises from each temperature within the window [K]."""
    asked = np.zeros(now_c.size)
    before_c = planned.start_c
    for segment in planned.segments:
        low_c, high_c = before_c, segment.target_c
        before_c = segment.target_c
        if high_c <= low_c:
            break
        rate = segment.rate_c_per_h
        most_k = FULL_POWER_K if rate is None else rate * WINDOW_S / 3600
        inside = (now_c > low_c + NEAR_K) & (now_c < high_c - NEAR_K)
        asked[inside] = np.minimum(most_k, high_c - NEAR_K - now_c)[inside]
    return asked


def _asked_fall(planned: Programme, now_c: FloatArray) -> FloatArray:
    """Return how far the programme falls from each temperature within the window [K].

    Where no rate is asked the kiln cools by itself, and may stand open or shut.
    """
    asked = np.zeros(now_c.size)
    before_c = planned.start_c
    for segment in planned.segments:
        high_c, low_c = before_c, segment.target_c
        before_c = segment.target_c
        if low_c >= high_c or segment.rate_c_per_h is None:
            continue
        inside = (now_c < high_c - NEAR_K) & (now_c > low_c + NEAR_K)
        most_k = segment.rate_c_per_h * WINDOW_S / 3600
        asked[inside] = np.minimum(most_k, now_c - low_c - NEAR_K)[inside]
    return asked


def _spans(
    is_stalled: np.ndarray, steps: int, kiln_c: FloatArray
) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], is_stalled.astype(int), [0]))))
    found: list[tuple[int, int]] = []
    for start, after in zip(edges[::2], edges[1::2], strict=True):
        end = min(int(after) - 1 + steps, kiln_c.size - 1)
        if found and start - found[-1][1] <= APART_S / GRID_S:
            found[-1] = (found[-1][0], end)
        else:
            found.append((int(start), end))
    return found
