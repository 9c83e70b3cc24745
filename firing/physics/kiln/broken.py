"""Readings that no kiln can have had: the thermocouple, or its wire, was broken.

A broken thermocouple reads the end of its scale, the room, or what it read last. Only
how fast a kiln's air can change tells it from a true fall. An opened kiln changes
faster, see `dips`; `recorded` cleans the rest.
"""

from dataclasses import dataclass

import numpy as np

from firing.physics.kiln.dips import dips
from firing.physics.kiln.model import KilnModel
from firing.physics.schedule import FloatArray

# Rules of this project, without a source. The air of a small kiln, with its lid open or
# at full power, changes by no more than this [K/s], beside a jump of SLACK_K.
FASTEST_K_PER_S = 30.0 / 60.0
SLACK_K, SLACK_SIGMAS = 40.0, 6.0
# No kiln stands in a colder room: what falls below it at once has read nothing [°C].
COLDEST_ROOM_C = 5.0
# A thermocouple in the air runs ahead of the bricks that a kiln's fit is about.
AHEAD_OF_BRICKS = 3.0
# A value that does not move for so long before an impossible jump was stuck.
STUCK_READINGS, STUCK_S = 5, 600.0
# Readings either side of some that are left out lie this much closer together [1].
CALM = 0.1
# A reading counts if it moves: a broken thermocouple mostly says the same. To leave some
# out in one go costs as much as so many of them.
LEFT_OUT = 3.0
# The readings are looked at in so many parts: the search is quadratic in them.
PARTS = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How fast the air in a kiln can change.

    Attributes
    ----------
    rise_k_per_s, fall_k_per_s : float
        Up at full power, down with the lid open [K/s].
    """

    rise_k_per_s: float = FASTEST_K_PER_S
    fall_k_per_s: float = FASTEST_K_PER_S


ANY_KILN = Pace()


def pace_of(kiln: KilnModel | None) -> Pace:
    """Return how fast the air in a kiln can change.

    Parameters
    ----------
    kiln : KilnModel or None
        The kiln as measured or entered; None is any.

    References
    ----------
    The model's own rate at full power; the factor is this project's.
    """
    if kiln is None:
        return ANY_KILN
    gain_k = kiln.full_power_holds_c - kiln.ambient_c
    rise = AHEAD_OF_BRICKS * gain_k / kiln.cooling_time_constant_s
    return Pace(rise_k_per_s=min(rise, FASTEST_K_PER_S))


def possible(
    time_s: FloatArray, temperature_c: FloatArray, pace: Pace, *, noise_k: float
) -> np.ndarray:
    """Tell which readings a kiln can have had.

    Parameters
    ----------
    time_s, temperature_c : ndarray, shape (n,)
        Readings; times never decrease [s, °C].
    pace : Pace
        How fast the kiln can change.
    noise_k : float
        Standard deviation of one reading [K].

    Returns
    -------
    ndarray of bool, shape (n,)
        The best part of the readings that one kiln can have gone through in this order:
        most that move, left out in the fewest goes. All of them unless somewhere two
        neighbours are impossible. The fall and the rise of a kiln that was seen to be
        opened are possible.

    References
    ----------
    Own rules, without a source.
    """
    steps_k = np.diff(temperature_c)
    jumps = _jumps(time_s, temperature_c, pace, noise_k)
    for dip in dips(time_s, temperature_c, jumps):
        if dip.is_seen:
            jumps[dip.before : dip.after] = False
    if not jumps.any():
        return np.ones(time_s.size, dtype=np.bool_)
    part_s = (time_s[-1] - time_s[0]) / PARTS
    places = np.floor((time_s - time_s[0]) / part_s)
    starts = np.flatnonzero(np.concatenate(([True], jumps | (np.diff(places) > 0))))
    ends = np.append(starts[1:], time_s.size) - 1
    moved = np.concatenate(([True], (steps_k != 0) & ~jumps)).astype(np.float64)
    sizes = np.add.reduceat(moved, starts)
    best, before = sizes - LEFT_OUT, np.full(starts.size, -1)
    best[0] = sizes[0]
    for part in range(1, starts.size):
        reached = _follows(
            time_s[starts[part]] - time_s[ends[:part]],
            temperature_c[ends[:part]],
            temperature_c[starts[part]],
            pace,
            noise_k,
            CALM,
        )
        kept = np.where(reached, best[:part] - LEFT_OUT, -np.inf)
        if not jumps[starts[part] - 1]:
            kept[-1] = best[part - 1]
        # Of equals the latest: readings in a row belong together.
        last = part - 1 - int(np.argmax(kept[::-1]))
        if sizes[part] + kept[last] > best[part]:
            best[part] = sizes[part] + kept[last]
            before[part] = last
    is_possible = np.zeros(time_s.size, dtype=np.bool_)
    # Of equals the earliest: what breaks for good leaves a record that ends there.
    best[:-1] -= LEFT_OUT
    part = int(np.argmax(best))
    while part + 1 < starts.size and not jumps[starts[part + 1] - 1]:
        part += 1
    while part >= 0:
        is_possible[starts[part] : ends[part] + 1] = True
        part = int(before[part])
    for jump in np.flatnonzero(jumps):
        if is_possible[jump + 1] and not is_possible[jump]:
            is_possible[_stuck(time_s, temperature_c, int(jump))] = False
    return is_possible


def perhaps_opened(
    time_s: FloatArray, temperature_c: FloatArray, pace: Pace, *, noise_k: float
) -> np.ndarray:
    """Tell which readings are a broken thermocouple's or an opened kiln's.

    Parameters
    ----------
    time_s, temperature_c, pace, noise_k
        As in `possible`.

    Returns
    -------
    ndarray of bool, shape (n,)
        Those in a dip whose fall or rise has no reading: neither can be ruled out.

    References
    ----------
    Own rules, without a source.
    """
    found = np.zeros(time_s.size, dtype=np.bool_)
    jumps = _jumps(time_s, temperature_c, pace, noise_k)
    for dip in dips(time_s, temperature_c, jumps):
        if not dip.is_seen and dip.after is not None:
            found[dip.before + 1 : dip.after] = True
    return found


def _jumps(
    time_s: FloatArray, temperature_c: FloatArray, pace: Pace, noise_k: float
) -> np.ndarray:
    """Tell from which reading to the next no closed kiln can go."""
    return ~_follows(
        np.diff(time_s), temperature_c[:-1], temperature_c[1:], pace, noise_k, 1.0
    )


def _follows(
    after_s: FloatArray,
    from_c: FloatArray,
    to_c: FloatArray | np.float64,
    pace: Pace,
    noise_k: float,
    share: float,
) -> np.ndarray:
    """Tell from which reading a kiln can get to the other in the time."""
    by_k = to_c - from_c
    slack_k = max(SLACK_K, SLACK_SIGMAS * noise_k)
    rises = by_k <= share * pace.rise_k_per_s * after_s + slack_k
    falls = by_k >= -share * pace.fall_k_per_s * after_s - slack_k
    is_room = (to_c >= COLDEST_ROOM_C) | (by_k >= -slack_k)
    return np.asarray(rises & falls & is_room)


def _stuck(time_s: FloatArray, temperature_c: FloatArray, last: int) -> slice:
    """Return the readings up to a jump that all say the same, less the first of them."""
    first = last
    while first > 0 and temperature_c[first - 1] == temperature_c[last]:
        first -= 1
    is_stuck = last - first >= STUCK_READINGS and (
        time_s[last] - time_s[first] >= STUCK_S
    )
    return slice(first + 1, last + 1) if is_stuck else slice(last, last)
