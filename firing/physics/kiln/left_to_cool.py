"""How long a kiln that cools by itself still takes, from what it showed.

`model` has the same law for a whole programme.
"""

import math

import numpy as np

from firing.physics.schedule import FloatArray

# Assumptions of this project: fewer readings, or a smaller fall, say nothing sure; and
# how close to the room a fall can be followed.
FEWEST, SHORTEST_S, LEAST_FALL_K = 3, 1200.0, 3.0
NEAR_ROOM_K = 1.0


def cooling_time_s(
    from_c: float, to_c: float, *, room_c: float, time_constant_s: float
) -> float:
    """Return how long a kiln without power takes from one temperature to another [s].

    Parameters
    ----------
    from_c, to_c : float
        Where it is and where it is to be [°C]; none of it is below the room plus 1 K.
    room_c : float
        Air of the room [°C].
    time_constant_s : float
        In which it falls to 37 % of its heat [s].

    Returns
    -------
    float
        0 where it is there.

    Notes
    -----
    T(t) = room + (T(0) - room) exp(-t/tau), solved for t.

    References
    ----------
    Newton's law of cooling, closed form.
    """
    above_k = max(from_c - room_c, NEAR_ROOM_K)
    left_k = max(to_c - room_c, NEAR_ROOM_K)
    return max(0.0, time_constant_s * math.log(above_k / left_k))


def fitted_time_constant_s(
    time_s: FloatArray, shown_c: FloatArray, *, room_c: float
) -> float | None:
    """Return the time constant of a kiln's fall, or None where it does not fall [s].

    Parameters
    ----------
    time_s, shown_c : ndarray, shape (n,)
        Readings in order [s, °C].
    room_c : float
        Air of the room [°C].

    Notes
    -----
    The straight line through ln(T - room) over time, by least squares; its slope is
    -1/tau.

    References
    ----------
    Newton's law of cooling.
    """
    used = shown_c > room_c + NEAR_ROOM_K
    at_s, above_k = time_s[used], shown_c[used] - room_c
    if at_s.size < FEWEST or at_s[-1] - at_s[0] < SHORTEST_S:
        return None
    if above_k[0] - above_k[-1] < LEAST_FALL_K:
        return None
    passed_s, logs = at_s - at_s.mean(), np.log(above_k)
    slope = float(passed_s @ (logs - logs.mean()) / (passed_s @ passed_s))
    return -1 / slope if slope < 0 else None
