"""How uneven a kiln is across its shelf, from what a studio measured.

Two thermocouples or sets of cones lie on the shelf, one in the middle and one towards
the edge, while the kiln holds in the anneal or while it cools.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from firing.physics.kiln.measured import check_measured, weighted_mean
from firing.physics.refusals import Cause, kelvin, metres
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import (
    MOST_EDGE_K,
    SMALLEST_M,
    WIDEST_M,
    Across,
)

ROOM_C = 20.0
# Below this a comparison says too little of the anneal [°C].
MEASURED_FROM_C = 300.0
LEAST_ERROR_K, MOST_ERROR_K = 0.2, 20.0
# A kiln that falls more slowly is holding [K/s].
HOLDING_K_S = 1.0 / 3600
# What a band is over: about 19 kilns in 20.
ERRORS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Unevenness:
    """One measurement in the middle of a shelf and towards its edge.

    Attributes
    ----------
    middle_c, edge_c : float
        What was measured at the same moment [°C].
    reach_m : float
        How far the second place is from the middle [m].
    error_k : float
        One standard deviation of their difference [K].
    falls_k_s : float
        How fast the kiln fell meanwhile [K/s]; 0 while it holds.
    """

    middle_c: float
    edge_c: float
    reach_m: float
    error_k: float
    falls_k_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Evenness:
    """A kiln's unevenness, a parabola from the middle of its shelf.

    Attributes
    ----------
    bow_k_m2, error_k_m2 : float
        How much hotter the edge is, by the square of its distance from the middle, at
        the temperature of the anneal, and one standard deviation of that [K/m²].
    lead_s_m2 : float
        How far ahead of the middle the edge cools, likewise [s/m²].
    """

    bow_k_m2: float
    error_k_m2: float
    lead_s_m2: float

    def over(self, radius_m: float) -> Across:
        """Return how uneven the kiln is over a slab in its middle.

        Parameters
        ----------
        radius_m : float
            From the slab's middle to its furthest edge [m].

        Raises
        ------
        PhysicsProblem
            If the slab is outside the model, or so wide that the kiln is.
        """
        squared = radius_m**2
        middle_k = self.bow_k_m2 * squared
        error_k = ERRORS * self.error_k_m2 * squared
        return Across(
            radius_m=radius_m,
            edge_k=(middle_k - error_k, middle_k + error_k),
            lead_s=self.lead_s_m2 * squared,
        )


def evenness_of(measured: Sequence[Unevenness], *, anneals_c: float) -> Evenness | None:
    """Return a kiln's unevenness from what was measured; None without a holding kiln.

    Parameters
    ----------
    measured : sequence of Unevenness
        Any number of them.
    anneals_c : float
        Where the glass anneals [°C]: unevenness is in proportion to how much hotter
        than the room the kiln is.

    Raises
    ------
    PhysicsProblem
        If one is too cold, too close to the middle, or no kiln is like that.

    Notes
    -----
    Weighted means. What a falling kiln has beside the holding one's is its lead.

    References
    ----------
    `measured`; the parabola and the proportion are assumptions of this project.
    """
    for one in measured:
        _check(one)
    holding = [one for one in measured if one.falls_k_s <= HOLDING_K_S]
    falling = [one for one in measured if one.falls_k_s > HOLDING_K_S]
    if not holding:
        return None
    bow, error = weighted_mean(
        [_bow(one, anneals_c) for one in holding],
        [_error(one, anneals_c) for one in holding],
    )
    lead = 0.0
    if falling:
        lead, _ = weighted_mean(
            [_lead(one, bow, anneals_c) for one in falling],
            [one.error_k / one.reach_m**2 / one.falls_k_s for one in falling],
        )
    return Evenness(bow_k_m2=bow, error_k_m2=error, lead_s_m2=lead)


def _hotter(one: Unevenness, anneals_c: float) -> float:
    return (one.middle_c - ROOM_C) / (anneals_c - ROOM_C)


def _bow(one: Unevenness, anneals_c: float) -> float:
    return (one.edge_c - one.middle_c) / one.reach_m**2 / _hotter(one, anneals_c)


def _error(one: Unevenness, anneals_c: float) -> float:
    return one.error_k / one.reach_m**2 / _hotter(one, anneals_c)


def _lead(one: Unevenness, bow: float, anneals_c: float) -> float:
    held_k = bow * one.reach_m**2 * _hotter(one, anneals_c)
    return (held_k - (one.edge_c - one.middle_c)) / one.reach_m**2 / one.falls_k_s


def _check(one: Unevenness) -> None:
    check_measured(
        one.middle_c,
        one.error_k,
        from_c=MEASURED_FROM_C,
        sure_k=(LEAST_ERROR_K, MOST_ERROR_K),
    )
    if not SMALLEST_M <= one.reach_m <= WIDEST_M:
        raise PhysicsProblem(
            Cause.RADIUS,
            radius=metres(one.reach_m),
            least=metres(SMALLEST_M),
            most=metres(WIDEST_M),
        )
    if not abs(one.edge_c - one.middle_c) <= MOST_EDGE_K:
        raise PhysicsProblem(Cause.SPREAD, most=kelvin(MOST_EDGE_K))
