"""Whether a kiln heats or cools otherwise than it did: elements, seals, thermocouple.

`fit` reads one firing; here several before are compared with several after.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firing.physics.kiln.fit import RecordedFiring, fit_kiln
from firing.physics.schedule import PhysicsProblem

# Own rules, without a source: fewer firings a side, or less of a change, tell nothing;
# loads differ, so that no kiln repeats itself closer than the least scatter.
LEAST_FIRINGS = 4
LEAST_CHANGE, SURE_ERRORS = 0.04, 3.0
LEAST_SCATTER = 0.015
MAD_SIGMAS, MEDIAN_ERROR = 1.4826, 1.2533


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How fast a kiln heated and cooled in one firing.

    Attributes
    ----------
    heats_k_per_s : float or None
        What full power alone would heat it by [K/s], without what it loses; None if
        the kiln kept up with every ramp.
    cooling_time_constant_s : float
        Time in which, switched off, its distance to the room falls to 1/e [s].
    """

    heats_k_per_s: float | None
    cooling_time_constant_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """How much a value changed.

    Attributes
    ----------
    change : float
        Share by which the later middle is above the earlier one; -0.08 is 8 % less.
    error : float
        One standard error of it.
    before, after : int
        How many firings each middle rests on.
    """

    change: float
    error: float
    before: int
    after: int

    @property
    def is_sure(self) -> bool:
        """Whether it is too large for chance and large enough to matter."""
        return abs(self.change) >= max(LEAST_CHANGE, SURE_ERRORS * self.error)


def pace_of(
    firing: RecordedFiring, *, max_temperature_c: float, ambient_c: float
) -> Pace | None:
    """Return how fast a kiln was in one firing, or None if its readings do not tell.

    Parameters
    ----------
    firing : RecordedFiring
        Its readings; without its schedule only the cooling can be known.
    max_temperature_c, ambient_c : float
        Highest temperature of the kiln, and the room [°C].

    Notes
    -----
    The kiln is C dT/dt = P - UA (T - Ta), so that P/C = (Tf - Ta)/tau.

    References
    ----------
    First-order lumped capacitance, as `fit`.
    """
    try:
        fit = fit_kiln(
            [firing], max_temperature_c=max_temperature_c, ambient_c=ambient_c
        )
    except PhysicsProblem:
        return None
    tau_s, full = fit.cooling_time_constant_s.value, fit.full_power_holds_c
    return Pace(
        heats_k_per_s=None if full is None else (full.value - ambient_c) / tau_s,
        cooling_time_constant_s=tau_s,
    )


def drift(before: Sequence[float], after: Sequence[float]) -> Drift | None:
    """Compare the middle of some values with the middle of earlier ones.

    Parameters
    ----------
    before, after : sequence of float
        The same value of several firings, above 0, in any one unit.

    Returns
    -------
    Drift or None
        None where there are fewer than four on either side.

    Notes
    -----
    Medians of logarithms, so that one odd load changes nothing; the scatter is the
    median distance of each side from its own middle.

    References
    ----------
    Median absolute deviation, 1.4826 MAD, and the error of a median, 1.2533 sigma by
    root n, for normal scatter: as in any textbook of robust statistics (from memory).
    """
    if min(len(before), len(after)) < LEAST_FIRINGS:
        return None
    early, late = np.log(before), np.log(after)
    change = float(np.median(late) - np.median(early))
    apart = np.concatenate([early - np.median(early), late - np.median(late)])
    # Each middle is one of its own values, or between two: those tell no scatter.
    free = apart.size / (apart.size - 2)
    sigma = max(MAD_SIGMAS * float(np.median(np.abs(apart))) * free, LEAST_SCATTER)
    error = MEDIAN_ERROR * sigma * math.sqrt(1 / early.size + 1 / late.size)
    return Drift(
        change=math.expm1(change), error=error, before=early.size, after=late.size
    )
