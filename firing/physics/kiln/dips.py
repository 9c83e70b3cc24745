"""A hot kiln that was opened: its air falls within minutes and comes back once closed.

That is faster than any kiln cools by itself, and the tension it makes is real. `broken`
finds what no kiln can have had; here is what an opened one can.
"""

from dataclasses import dataclass

import numpy as np

from firing.physics.schedule import FloatArray

# Rules of this project, without a source. The air of an opened kiln falls by no more
# than this [K], and by no more than this share of what it is above the room.
DEEPEST_K, DEEPEST_SHARE, ROOM_C = 320.0, 0.75, 20.0
# From before it is opened to when its air is back again [s].
LONGEST_S = 3600.0
# The air is back when it is this close to where it was [K], or to where the kiln has
# fallen since by itself [K/s].
BACK_K, FALLS_K_PER_S = 40.0, 0.06
# The fall, and the way back, are seen if a reading is between these shares of it.
SEEN_FROM, SEEN_TO = 0.1, 0.9
# Nobody opens a kiln and has its air back within less [s]: a fault of the logger.
SHORTEST_S = 300.0


@dataclass(frozen=True, slots=True)
class Dip:
    """Readings that an opened kiln can have had: between `before` and `after`.

    It `is_seen` if there are readings on the way down and on the way back; a broken
    wire jumps. Without an `after` the record ends in it.
    """

    before: int
    after: int | None
    is_seen: bool


def dips(
    time_s: FloatArray, temperature_c: FloatArray, jumps: np.ndarray
) -> tuple[Dip, ...]:
    """Return where a record falls and comes back as an opened kiln does.

    Parameters
    ----------
    time_s, temperature_c : ndarray, shape (n,)
        Readings; times never decrease [s, °C].
    jumps : ndarray of bool, shape (n - 1,)
        Whether it goes from a reading to the next faster than a closed kiln can; only
        dips with such a jump are looked for.

    References
    ----------
    Own rules, without a source.
    """
    found: list[Dip] = []
    for jump in np.flatnonzero(jumps):
        if found and (found[-1].after is None or jump < found[-1].after):
            continue
        if temperature_c[jump + 1] < temperature_c[jump]:
            dip = _after_fall(time_s, temperature_c, int(jump))
        else:
            dip = _before_rise(time_s, temperature_c, int(jump) + 1)
        if dip is not None and not (found and dip.before < (found[-1].after or 0)):
            found.append(dip)
    return tuple(found)


def _after_fall(
    time_s: FloatArray, temperature_c: FloatArray, before: int
) -> Dip | None:
    last = int(np.searchsorted(time_s, time_s[before] + LONGEST_S, side="right"))
    after_s = time_s[before + 1 : last] - time_s[before]
    back_c = temperature_c[before] - BACK_K - FALLS_K_PER_S * after_s
    back = np.flatnonzero(temperature_c[before + 1 : last] >= back_c)
    if back.size:
        return _dip(temperature_c, before, before + 1 + int(back[0]))
    return _dip(temperature_c, before, None) if last == time_s.size else None


def _before_rise(
    time_s: FloatArray, temperature_c: FloatArray, after: int
) -> Dip | None:
    first = int(np.searchsorted(time_s, time_s[after] - LONGEST_S))
    high = np.flatnonzero(temperature_c[first : after - 1] >= temperature_c[after])
    if not high.size:
        return None
    return _dip(temperature_c, first + int(high[-1]), after)


def _dip(temperature_c: FloatArray, before: int, after: int | None) -> Dip | None:
    """Return the dip, if it is not too deep, and its readings move."""
    inside_c = temperature_c[before + 1 : after]
    from_c = float(temperature_c[before])
    deepest_k = min(DEEPEST_K, DEEPEST_SHARE * (from_c - ROOM_C))
    if not inside_c.size or from_c - inside_c.min() > deepest_k:
        return None
    if inside_c.size > 2 and not np.ptp(inside_c):
        return None
    lowest = int(np.argmin(inside_c))
    is_seen = _is_seen(inside_c[:lowest], from_c, inside_c[lowest])
    if after is not None:
        back_c = float(temperature_c[after])
        is_seen &= _is_seen(inside_c[lowest + 1 :], back_c, inside_c[lowest])
    return Dip(before, after, is_seen)


def _is_seen(between_c: FloatArray, high_c: float, low_c: float) -> bool:
    share = (high_c - between_c) / max(high_c - low_c, 1.0)
    return bool(np.any((share > SEEN_FROM) & (share < SEEN_TO)))
