"""How soft a glass is when it is hot, and where two glasses are equally soft.

Sheets join and flow by their viscosity, whatever the temperature it has. What the trade
does with its best known glass is carried over to any other by equal viscosity. Relaxation
in the annealing range is in `properties`.
"""

import math

from firing.physics.glass.families import NINETY
from firing.physics.glass.properties import KELVIN, Glass

LOG_AT_ANNEALING = 12.0
LOG_AT_SOFTENING = 6.6
# Of every silicate melt, without end of heat [log10 Pa s].
LOG_LIMIT = -2.93
# Common practice, no source, for the 90-expansion glass: 650 to 700 °C.
NINETY_JOINS_C = 670.0
# Common practice, no source: 90- and 96-expansion glass are fired by one programme.
SAME_WITHIN_K = 15.0


def log10_viscosity(glass: Glass, temperature_c: float) -> float:
    """Return the logarithm of the equilibrium viscosity [log10 Pa s].

    Parameters
    ----------
    glass : Glass
        With an annealing point (10^12 Pa s) and, if known, a softening point
        (10^6.6 Pa s); without one it is as fragile as the 90-expansion glass.
    temperature_c : float
        Temperature [°C], above -273.15.

    Notes
    -----
    log eta = a + (12 - a) x exp(k (x - 1)) with x = T_annealing/T; k from the softening
    point, a = -2.93. Between the two points it interpolates, above them it is an
    estimate.

    References
    ----------
    Mauro, Yue, Ellison, Gupta, Allan 2009 (PNAS 106, from memory); the limit of -1.93
    in log dPa s is read in the abstract of a comparison of 2014 (Processing and
    Application of Ceramics). Points: ISO 7884-1, ASTM C338 (from memory).
    """
    return _log_at(_fragility(glass), _annealing_k(glass) / (temperature_c + KELVIN))


def temperature_at(glass: Glass, log_pa_s: float) -> float:
    """Return where a glass has a viscosity [°C]: the inverse of `log10_viscosity`.

    Parameters
    ----------
    glass : Glass
        The glass.
    log_pa_s : float
        Viscosity [log10 Pa s], 0 to 14.

    References
    ----------
    None: bisection, to a thousandth of a kelvin.
    """
    low_c, high_c = 0.0, 3000.0
    while high_c - low_c > 1e-3:
        middle_c = (low_c + high_c) / 2
        if log10_viscosity(glass, middle_c) > log_pa_s:
            low_c = middle_c
        else:
            high_c = middle_c
    return (low_c + high_c) / 2


def as_soft_as_ninety(glass: Glass, temperature_c: float) -> float:
    """Return where a glass is as soft as the 90-expansion glass is at a temperature.

    Parameters
    ----------
    glass : Glass
        The glass.
    temperature_c : float
        What the trade does with the 90-expansion glass [°C].

    Returns
    -------
    float
        Whole degrees [°C]; the same temperature where the two differ by less than 15 K.

    References
    ----------
    Equal viscosity, see `log10_viscosity`.
    """
    found_c = temperature_at(glass, log10_viscosity(NINETY, temperature_c))
    is_same = abs(found_c - temperature_c) < SAME_WITHIN_K
    return temperature_c if is_same else float(round(found_c))


def joins_c(glass: Glass) -> float:
    """Return where sheets of a glass have become one piece [°C].

    Parameters
    ----------
    glass : Glass
        The glass.

    References
    ----------
    `as_soft_as_ninety`.
    """
    return as_soft_as_ninety(glass, NINETY_JOINS_C)


def _annealing_k(glass: Glass) -> float:
    return glass.annealing_point_c + KELVIN


def _fragility(glass: Glass) -> float:
    """Return k of the equation."""
    if glass.softening_point_c is None:
        return _fragility(NINETY)
    x = _annealing_k(glass) / (glass.softening_point_c + KELVIN)
    share = (LOG_AT_SOFTENING - LOG_LIMIT) / ((LOG_AT_ANNEALING - LOG_LIMIT) * x)
    return math.log(share) / (x - 1)


def _log_at(fragility: float, x: float) -> float:
    return LOG_LIMIT + (LOG_AT_ANNEALING - LOG_LIMIT) * x * math.exp(
        fragility * (x - 1)
    )
