"""What it costs to fuse glasses of different expansion: a stress that no anneal
removes.

One formula for two layers through the thickness.
"""

from dataclasses import dataclass

from firing.physics.glass.properties import Glass
from firing.physics.limits import Limits
from firing.physics.refusals import Cause
from firing.physics.schedule import PhysicsProblem

# Assumption of this project: the glasses begin to pull at each other where the stiffer
# one sets, and room temperature is 20 °C.
ROOM_C = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Mismatch:
    """Stress of two fused glasses at room temperature.

    Attributes
    ----------
    difference_per_k : float
        Expansion of the first less that of the second [1/K].
    setting_c : float
        From where the difference counts [°C].
    largest_tension_pa : float
        Tension in the glass of the higher expansion where it is a thin layer on the
        other: the worst case of any proportion [Pa].
    tension_pa : float
        Tension in it at the given share of the thickness, held flat [Pa].
    is_refused : bool
        Whether the worst case passes the residual limit.
    """

    difference_per_k: float
    setting_c: float
    largest_tension_pa: float
    tension_pa: float
    is_refused: bool


def mismatch(
    first: Glass, second: Glass, *, limits: Limits, first_share: float = 0.5
) -> Mismatch:
    """Return the stress that stays when two glasses are fused.

    Parameters
    ----------
    first, second : Glass
        The glasses.
    limits : Limits
        The residual limit is what refuses.
    first_share : float
        Share of the thickness that the first glass has, above 0 and below 1.

    Raises
    ------
    PhysicsProblem
        If the share is not between 0 and 1.

    Notes
    -----
    Two layers held flat: sigma_1 = M_1 M_2 s_2 / (M_1 s_1 + M_2 s_2) (alpha_1 -
    alpha_2)(T_set - 20 °C), with M = E/(1 - nu) and the shares s; the glass of the
    higher expansion is in tension. T_set is the higher of both annealing points less
    30 K, where each glass has long been stiff on the time scale of an anneal.

    References
    ----------
    Equilibrium of two bonded layers; derived. T_set and the refusal at the residual
    limit are assumptions of this project; so is that nominal expansions of 20 to
    300 °C hold up to T_set, which understates the difference by about a tenth.
    """
    if not 0 < first_share < 1:
        raise PhysicsProblem(Cause.SHARE)
    difference = first.expansion_glass_per_k - second.expansion_glass_per_k
    setting_c = max(first.coldest_fictive_c, second.coldest_fictive_c)
    strain = abs(difference) * (setting_c - ROOM_C)
    pulled, other = (first, second) if difference >= 0 else (second, first)
    share = first_share if difference >= 0 else 1 - first_share
    stiff, rest = pulled.plane_modulus_pa, other.plane_modulus_pa
    largest_pa = stiff * strain
    tension_pa = largest_pa * rest * (1 - share) / (stiff * share + rest * (1 - share))
    return Mismatch(
        difference_per_k=difference,
        setting_c=setting_c,
        largest_tension_pa=largest_pa,
        tension_pa=tension_pa,
        is_refused=largest_pa > limits.residual_pa,
    )
