"""How long a slab needs, at its slowest, until it is warm enough or even enough.

The rules that lengthen a fuse hold and an anneal soak are here; the resulting stress is
computed elsewhere.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from firing.physics.designing.band import Uncertainty
from firing.physics.glass.properties import KELVIN, with_conductivity
from firing.physics.refusals import Cause, celsius
from firing.physics.schedule import FloatArray, PhysicsProblem
from firing.physics.slab.input import Accuracy, SlabFiring
from firing.physics.slab.result import Trace
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import Boundary, equalising_time_s

# Assumptions of this project. After the soak the glass may differ by EVEN_K between
# any two places. Through the thickness that is computed; across the slab, which the
# model of one dimension does not see, the kiln is taken to have left UNEVEN_K.
EVEN_K = 2.0
UNEVEN_K = 20.0

SLOTS = 800
COARSE = Accuracy(nodes=13)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """How long a soak must be for its slab to be even [s].

    Attributes
    ----------
    through_s : float
        Until the difference through the thickness is at most `EVEN_K`.
    across_s : float
        Until a difference of `UNEVEN_K` across the slab has fallen to `EVEN_K`.
    """

    through_s: float
    across_s: float


def slow_time_s(firing: SlabFiring, uncertainty: Uncertainty, at_c: float) -> float:
    """Return the time constant in which a slab follows its kiln, at its slowest [s].

    Parameters
    ----------
    firing : SlabFiring
        The slab and its faces.
    uncertainty : Uncertainty
        The conductivity is taken at its lowest.
    at_c : float
        Temperature [°C].

    Notes
    -----
    Conduction L²/(kappa (pi/2)²) plus the films' rho cp d / sum(h + 4 eps s T³).

    References
    ----------
    The plane wall's first term and the lumped slab's; their sum is an upper bound to
    the time constant of both together, and exact in either limit (from memory).
    """
    glass, kelvin = firing.glass, at_c + KELVIN
    heat = glass.density_kg_m3 * glass.heat_capacity.at(kelvin)
    a0, a1 = glass.conductivity_w_mk
    conductivity = (a0 + a1 * at_c) * (1 - uncertainty.conductivity_share)
    inside_s = equalising_time_s(
        firing.thickness_m, conductivity / heat, firing.boundary
    )
    film = _film_w_m2k(firing.boundary, kelvin)
    return inside_s + (heat * firing.thickness_m / film if film else 0.0)


def time_until_warm_s(
    firing: SlabFiring, uncertainty: Uncertainty, *, at_least_c: float, after_s: float
) -> float:
    """Return how long after an instant all the glass is as warm as asked [s].

    Parameters
    ----------
    firing : SlabFiring
        A history that stays hot long enough.
    uncertainty : Uncertainty
        The conductivity is taken at its lowest and the kiln at its coldest.
    at_least_c : float
        Temperature to be reached [°C].
    after_s : float
        The instant [s].

    Raises
    ------
    PhysicsProblem
        If the glass does not get there.

    References
    ----------
    Computed by `simulation`.
    """
    trace = _slowest_trace(firing, uncertainty)
    coldest_c = np.minimum(np.minimum(trace.bottom_c, trace.middle_c), trace.top_c)
    short_k = at_least_c + uncertainty.thermocouple_k - coldest_c
    if short_k[-1] > 0:
        raise PhysicsProblem(Cause.DOES_NOT_REACH, least=celsius(round(at_least_c, 0)))
    return max(_last_above(trace.time_s, short_k) - after_s, 0.0)


def time_until_even_s(
    firing: SlabFiring, uncertainty: Uncertainty, *, soak_c: float, after_s: float
) -> Evening:
    """Return how long after an instant the slab is even [s].

    Parameters
    ----------
    firing : SlabFiring
        A history that ends in a long soak.
    uncertainty : Uncertainty
        The conductivity is taken at its lowest.
    soak_c : float
        Temperature of the soak [°C].
    after_s : float
        When the kiln has got to the soak [s].

    Raises
    ------
    PhysicsProblem
        If it is not even at the end of the history.

    Notes
    -----
    Through: computed. Across: (conduction + film time constant) ln(20 K / 2 K), as a
    kiln that is even lets each place of the slab follow it by itself.

    References
    ----------
    Assumptions of this project, named at the top of this module.
    """
    trace = _slowest_trace(firing, uncertainty)
    places = np.stack([trace.bottom_c, trace.middle_c, trace.top_c])
    excess_k = np.ptp(places, axis=0) - EVEN_K
    if excess_k[-1] > 0:
        raise PhysicsProblem(Cause.NEVER_EVEN)
    through_s = max(_last_above(trace.time_s, excess_k) - after_s, 0.0)
    across_s = slow_time_s(firing, uncertainty, soak_c) * math.log(UNEVEN_K / EVEN_K)
    return Evening(through_s=through_s, across_s=across_s)


def _last_above(time_s: FloatArray, excess: FloatArray) -> float:
    """Return when an excess falls to zero for the last time; the first time if never.

    Between two slots of a trace it counts as straight.
    """
    above = np.flatnonzero(excess > 0)
    if above.size == 0:
        return float(time_s[0])
    at = int(above[-1])
    share = excess[at] / (excess[at] - excess[at + 1])
    return float(time_s[at] + share * (time_s[at + 1] - time_s[at]))


def _slowest_trace(firing: SlabFiring, uncertainty: Uncertainty) -> Trace:
    slow = replace(
        firing,
        glass=with_conductivity(firing.glass, 1 - uncertainty.conductivity_share),
        settle=False,
    )
    trace = simulate(slow, COARSE, trace_slots=SLOTS).trace
    if trace is None or trace.time_s.size == 0:
        raise PhysicsProblem(Cause.NO_LENGTH)
    return trace


def _film_w_m2k(boundary: Boundary, kelvin: float) -> float:
    """Return what both films let through together [W/(m² K)]; 0 without any film."""
    faces = [face for face in (boundary.bottom, boundary.top) if not face.is_insulated]
    if any(face.is_at_kiln_temperature for face in faces):
        return 0.0
    return sum(face.lets_through(kelvin) for face in faces)
