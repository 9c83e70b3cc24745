"""What an uneven kiln takes of the limits, and how wide a slab may be in it.

`slab.across` computes the stress. No rate mends it: the kiln is as uneven in a slow
anneal as in a quick one.
"""

from dataclasses import replace

from firing.physics.designing.band import AcrossBand
from firing.physics.limits import LEAST_PA, Limits
from firing.physics.slab.across import likely_and_extremes
from firing.physics.slab.input import SMALLEST_M, Across, SlabFiring

# A kiln that takes more than this share of a limit by itself takes it whatever is done;
# the plate is then designed as in an even kiln. Assumed.
MOST_SHARE = 0.5
HALVINGS = 12


def left_for_the_plate(limits: Limits, across: AcrossBand | None) -> Limits:
    """Return what an uneven kiln leaves of the limits for the plate itself.

    Parameters
    ----------
    limits : Limits
        For both together.
    across : AcrossBand or None
        What the kiln adds; None is nothing.

    References
    ----------
    The share beyond which nothing is left out is an assumption of this project.
    """
    if across is None:
        return limits
    temporary_pa = max(across.heating_pa.high, across.cooling_pa.high)
    left_pa = _left(limits.temporary_pa, temporary_pa)
    return replace(
        limits,
        temporary_pa=left_pa,
        residual_pa=min(_left(limits.residual_pa, across.residual_pa.high), left_pa),
    )


def _left(limit_pa: float, taken_pa: float) -> float:
    if takes_too_much(limit_pa, taken_pa):
        return limit_pa
    return max(limit_pa - taken_pa, LEAST_PA)


def takes_too_much(limit_pa: float, taken_pa: float) -> bool:
    """Return whether a kiln takes so much of a limit that no schedule makes up for it.

    Parameters
    ----------
    limit_pa, taken_pa : float
        The limit, and what the kiln adds [Pa].

    References
    ----------
    The share named at the top of this module.
    """
    return taken_pa > MOST_SHARE * limit_pa


def widest_radius_m(
    firing: SlabFiring, across: Across, conductivity_share: float, *, allowed_pa: float
) -> float:
    """Return how far a slab may reach from its middle in this kiln [m].

    Parameters
    ----------
    firing : SlabFiring
        The firing.
    across : Across
        How uneven the kiln is over a slab that is too wide.
    conductivity_share : float
        As in `likely_and_extremes`.
    allowed_pa : float
        What may stay because of the kiln [Pa].

    Returns
    -------
    float
        At most as far as `across` reaches; 0 if even the smallest is too wide.

    Notes
    -----
    The kiln's unevenness is a parabola from its middle: over half the width it is a
    quarter. Found by halving.

    References
    ----------
    `slab.across`.
    """
    low_m, high_m = 0.0, across.radius_m
    for _ in range(HALVINGS):
        radius_m = max((low_m + high_m) / 2, SMALLEST_M)
        share = (radius_m / across.radius_m) ** 2
        narrower = replace(
            across,
            radius_m=radius_m,
            edge_k=(share * across.edge_k[0], share * across.edge_k[1]),
            lead_s=share * across.lead_s,
        )
        found = likely_and_extremes(firing, narrower, conductivity_share)
        if max(one.residual_tension_pa for one in found) <= allowed_pa:
            low_m = radius_m
        else:
            high_m = radius_m
    return low_m
