"""How much hotter a kiln is than its thermocouple says, and how that is found.

Readings and typed values are *shown* temperatures; the glass sees the *true* ones.
`band` says how the offset widens a band.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firing.physics.kiln.measured import check_measured, weighted_mean
from firing.physics.refusals import Cause, kelvin
from firing.physics.schedule import FloatArray, PhysicsProblem

# Any thermocouple is right at room temperature, as far as the room's own thermometer
# can tell; its error grows with temperature. Assumed: straight from 20 °C, and whole
# from 400 °C up.
OFFSET_FROM_C, OFFSET_OVER_K = 20.0, 380.0
LARGEST_OFFSET_K = 60.0
# Below this a comparison says too little of the temperatures that matter [°C].
COMPARED_FROM_C = 200.0
# What a maker can read off two displays, and how steady they are [K].
LEAST_ERROR_K, MOST_ERROR_K = 0.5, 40.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One comparison of a kiln's display with another measurement beside the glass.

    Attributes
    ----------
    shown_c : float
        What the kiln showed [°C], at least 200.
    measured_c : float
        What the other thermometer or the cones said [°C].
    error_k : float
        One standard deviation of that measurement [K], 0.5 to 40.
    """

    shown_c: float
    measured_c: float
    error_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundOffset:
    """An offset from comparisons.

    Attributes
    ----------
    value_k : float
        Added to what is shown gives what is true [K].
    standard_error_k : float
        One standard deviation of it [K].
    comparisons : int
        How many it rests on.
    """

    value_k: float
    standard_error_k: float
    comparisons: int


def share_of_offset(temperature_c: FloatArray) -> FloatArray:
    """Return which share of an offset a thermocouple has at a temperature.

    Parameters
    ----------
    temperature_c : ndarray
        Temperatures [°C].

    References
    ----------
    Assumption of this project: none at 20 °C, all of it from 400 °C up.
    """
    return np.clip((temperature_c - OFFSET_FROM_C) / OFFSET_OVER_K, 0.0, 1.0)


def true_c(shown_c: FloatArray, offset_k: float) -> FloatArray:
    """Return what the glass gets when a kiln shows these temperatures.

    Parameters
    ----------
    shown_c : ndarray
        What is shown or typed [°C].
    offset_k : float
        How much hotter the kiln is than it shows [K], -60 to 60.

    Raises
    ------
    PhysicsProblem
        If the offset is out of reach.

    References
    ----------
    `share_of_offset`.
    """
    check_offset(offset_k)
    return shown_c + offset_k * share_of_offset(shown_c)


def shown_c(wanted_c: float, offset_k: float) -> float:
    """Return what to type for the glass to get a temperature; undoes `true_c`.

    Parameters
    ----------
    wanted_c : float
        What the glass shall see [°C].
    offset_k : float
        As in `true_c` [K].

    Raises
    ------
    PhysicsProblem
        If the offset is out of reach.

    References
    ----------
    `share_of_offset`, solved for what is shown.
    """
    check_offset(offset_k)
    if wanted_c <= OFFSET_FROM_C:
        return wanted_c
    # The share is that of what is shown, which grows with what is wanted.
    part = (wanted_c - OFFSET_FROM_C) / (1 + offset_k / OFFSET_OVER_K)
    return OFFSET_FROM_C + part if part <= OFFSET_OVER_K else wanted_c - offset_k


def check_offset(offset_k: float) -> None:
    """Refuse an offset that no thermocouple has.

    Parameters
    ----------
    offset_k : float
        Offset [K].

    Raises
    ------
    PhysicsProblem
        If it is no number from -60 to 60.

    References
    ----------
    Own limit, without a source: more than that is a broken thermocouple.
    """
    if not abs(offset_k) <= LARGEST_OFFSET_K:
        raise PhysicsProblem(
            Cause.OFFSET, most=kelvin(LARGEST_OFFSET_K), offset=kelvin(offset_k)
        )


def offset_of(comparisons: Sequence[Comparison]) -> FoundOffset:
    """Return the offset that follows from comparisons.

    Parameters
    ----------
    comparisons : sequence of Comparison
        One or several.

    Returns
    -------
    FoundOffset
        Their weighted mean and its error.

    Raises
    ------
    PhysicsProblem
        If there is none, one is too cold or out of reach, or the mean is.

    Notes
    -----
    Each says (measured - shown)/share with an error of its own over the share.

    References
    ----------
    `measured`.
    """
    if not comparisons:
        raise PhysicsProblem(Cause.NO_COMPARISON)
    for one in comparisons:
        _check(one)
    shares = share_of_offset(np.array([one.shown_c for one in comparisons]))
    pairs = list(zip(comparisons, shares, strict=True))
    mean_k, error_k = weighted_mean(
        [(one.measured_c - one.shown_c) / share for one, share in pairs],
        [one.error_k / share for one, share in pairs],
    )
    check_offset(mean_k)
    return FoundOffset(
        value_k=mean_k, standard_error_k=error_k, comparisons=len(comparisons)
    )


def _check(one: Comparison) -> None:
    check_measured(
        one.shown_c,
        one.error_k,
        from_c=COMPARED_FROM_C,
        sure_k=(LEAST_ERROR_K, MOST_ERROR_K),
    )
    check_offset(one.measured_c - one.shown_c)
