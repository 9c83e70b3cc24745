"""When a slab may be taken out of its kiln: the glass must be cold enough, not the air.

A thick slab that cools by its top is hours behind its kiln, and in the room its faces
cool before its middle does. Booking, design and every way on end here.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from firing.physics.glass.properties import Glass, with_conductivity
from firing.physics.kiln.curve import KilnCurve, kiln_curve
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.offset import true_c
from firing.physics.schedule import FloatArray, Programme
from firing.physics.slab.input import Accuracy, SlabFiring
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import IN_THE_ROOM, Boundary

# Assumptions of this project: where nothing is known, the room; how soon a slab that is
# taken out is in its air; what the opening may add up to of the limit, as the last of
# the cooling is still in the glass; how close to its opening temperature glass counts
# as there, as it only creeps up to a kiln that stays at it.
ROOM_C = 20.0
AIR_FALLS_S = 300.0
SHARE_OF_LIMIT = 0.85
READY_WITHIN_K = 2.0
# Above it no studio takes glass out.
HOTTEST_C = 150.0
# The room is never quite reached.
NEAR_ROOM_K = 1.0
COOLING_POINTS = 60
# Slabs whose safe temperature is kept in memory.
SLABS_KEPT = 256
COARSE = Accuracy(nodes=13)
# The stress of the first shock is over in half of this, d²/kappa.
SHOCK_SHARE = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Slab:
    """A slab in a kiln, as far as taking it out depends on it.

    Attributes
    ----------
    glass, thickness_m, boundary
        As in `SlabFiring`.
    temporary_pa : float
        Tension allowed [Pa].
    conductivity_share : float
        The conductivity may be that share lower.
    """

    glass: Glass
    thickness_m: float
    boundary: Boundary
    temporary_pa: float
    conductivity_share: float = 0.15

    @property
    def slow_glass(self) -> Glass:
        """The glass with its conductivity at the lowest."""
        return with_conductivity(self.glass, 1 - self.conductivity_share)


@lru_cache(maxsize=SLABS_KEPT)
def safe_opening_c(slab: Slab, room_c: float = ROOM_C) -> float:
    """Return below what temperature of all the glass it may be taken out [°C].

    Parameters
    ----------
    slab : Slab
        What is taken out.
    room_c : float
        Air of the room [°C].

    Notes
    -----
    A slab of one temperature without stress is put into the room's air within five
    minutes; its tension, which is nearly proportional to how much warmer it is, may be
    0.85 of the limit. At most 150 °C.

    References
    ----------
    `simulation`; the assumptions at the top of this module.
    """
    warmer_k = HOTTEST_C - room_c
    # The first is exact but for the radiation, which the second has at its own heat.
    for _ in range(2):
        shock_pa = _shock_pa(slab, room_c + warmer_k, room_c)
        warmer_k *= SHARE_OF_LIMIT * slab.temporary_pa / shock_pa
        warmer_k = min(warmer_k, HOTTEST_C - room_c)
    return room_c + warmer_k


def opens_below_c(slab: Slab, usual_c: float, room_c: float = ROOM_C) -> float:
    """Return below what temperature of all the glass a slab is taken out [°C].

    Parameters
    ----------
    slab : Slab
        What is taken out.
    usual_c : float
        The studio's own opening temperature [°C], never passed.
    room_c : float
        Air of the room [°C].

    References
    ----------
    `safe_opening_c`.
    """
    return min(usual_c, safe_opening_c(slab, room_c))


def curve_until_out(
    schedule: Programme,
    kiln: KilnModel | None,
    slab: Slab,
    *,
    ends_c: float,
    opening_c: float,
    kiln_offset_k: float,
) -> KilnCurve:
    """Return the kiln under a programme until its glass may be taken out.

    Parameters
    ----------
    schedule : Programme
        The programme.
    kiln, slab, opening_c, kiln_offset_k
        As in `until_out`.
    ends_c : float
        To which a known kiln is followed in any case [°C].

    Raises
    ------
    PhysicsProblem
        As `kiln_curve`.

    References
    ----------
    `curve`.
    """
    curve = kiln_curve(schedule, kiln, until_c=ends_c)
    time_s, temperature_c = until_out(
        curve.time_s,
        curve.temperature_c,
        slab,
        opening_c=opening_c,
        kiln=kiln,
        kiln_offset_k=kiln_offset_k,
    )
    return replace(curve, time_s=time_s, temperature_c=temperature_c)


def until_out(
    time_s: FloatArray,
    shown_c: FloatArray,
    slab: Slab,
    *,
    opening_c: float,
    kiln: KilnModel | None = None,
    kiln_offset_k: float = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Let a kiln cool on by itself until its glass may be taken out.

    Parameters
    ----------
    time_s, shown_c : ndarray, shape (n,)
        A run down to the studio's own opening temperature [s, °C].
    slab : Slab
        What lies in it.
    opening_c : float
        Below it all the glass must be, give or take 2 K [°C].
    kiln : KilnModel or None
        How it cools by itself; None stays where the run ends.
    kiln_offset_k : float
        How much hotter it is than it shows [K].

    Returns
    -------
    tuple of 2 ndarray
        The run to the end of that [s, °C]; never shorter than it was.

    References
    ----------
    `simulation` without stress; a kiln without power, `model`.
    """
    long_s, long_c = _left_alone(time_s, shown_c, slab, kiln)
    result = simulate(
        SlabFiring(
            glass=slab.slow_glass,
            thickness_m=slab.thickness_m,
            boundary=slab.boundary,
            time_s=long_s,
            kiln_c=true_c(long_c, kiln_offset_k),
            opening_c=opening_c + READY_WITHIN_K,
            settle=False,
            is_relaxing=False,
        ),
        COARSE,
    )
    cold_s = result.cool_since_s
    out_s = long_s[-1] if cold_s is None else max(cold_s, float(time_s[-1]))
    before = long_s < out_s
    return (
        np.append(long_s[before], out_s),
        np.append(long_c[before], np.interp(out_s, long_s, long_c)),
    )


def cooled_until(
    time_s: FloatArray, shown_c: FloatArray, kiln: KilnModel | None, until_s: float
) -> tuple[FloatArray, FloatArray]:
    """Let a kiln cool on by itself from where its history ends until a moment.

    Parameters
    ----------
    time_s, shown_c : ndarray, shape (n,)
        The history [s, °C].
    kiln : KilnModel or None
        How it cools by itself; None stays as it is.
    until_s : float
        The moment [s]; one within the history changes nothing.

    References
    ----------
    A kiln without power, `model`.
    """
    if until_s <= time_s[-1]:
        return time_s, shown_c
    until_c = float(shown_c[-1])
    if kiln is not None and until_c > kiln.ambient_c:
        passed = (until_s - float(time_s[-1])) / kiln.cooling_time_constant_s
        falling = np.exp(-np.linspace(0.0, passed, COOLING_POINTS)[1:])
        more_s = np.linspace(float(time_s[-1]), until_s, COOLING_POINTS)[1:]
        more_c = kiln.ambient_c + (until_c - kiln.ambient_c) * falling
        return np.append(time_s, more_s), np.append(shown_c, more_c)
    return np.append(time_s, until_s), np.append(shown_c, until_c)


def taken_out(firing: SlabFiring, room_c: float = ROOM_C) -> SlabFiring:
    """Return the firing with its slab taken out where its history ends.

    Parameters
    ----------
    firing : SlabFiring
        In the kiln.
    room_c : float
        Air of the room [°C].

    References
    ----------
    Assumed: the room's air within five minutes, and half of d²/kappa in it, by when
    the tension of the shock is falling.
    """
    out_s = float(firing.time_s[-1])
    if firing.kiln_c[-1] <= room_c:
        return firing
    kappa = firing.glass.diffusivity_m2_s(room_c)
    shock_s = SHOCK_SHARE * firing.thickness_m**2 / kappa
    return replace(
        firing,
        time_s=np.append(
            firing.time_s, (out_s + AIR_FALLS_S, out_s + AIR_FALLS_S + shock_s)
        ),
        kiln_c=np.append(firing.kiln_c, (room_c, room_c)),
        opened_s=out_s,
    )


def _shock_pa(slab: Slab, glass_c: float, room_c: float) -> float:
    in_hand = SlabFiring(
        glass=slab.slow_glass,
        thickness_m=slab.thickness_m,
        boundary=IN_THE_ROOM,
        time_s=np.array([0.0]),
        kiln_c=np.array([glass_c]),
        is_relaxing=False,
        settle=False,
    )
    return max(simulate(taken_out(in_hand, room_c), COARSE).cooling.tension_pa, 1.0)


def _left_alone(
    time_s: FloatArray, shown_c: FloatArray, slab: Slab, kiln: KilnModel | None
) -> tuple[FloatArray, FloatArray]:
    """Return the run and what a kiln without power, or one that stays, does after it."""
    last_s, last_c = float(time_s[-1]), float(shown_c[-1])
    if kiln is None:
        heat = slab.glass.density_kg_m3 * slab.glass.heat_capacity.at(300.0)
        # By a film of 10 W/(m² K), or by conduction if that is slower.
        film_s = heat * slab.thickness_m / 10
        inside_s = slab.thickness_m**2 / slab.slow_glass.diffusivity_m2_s(ROOM_C)
        return (
            np.append(time_s, last_s + 8 * (film_s + inside_s)),
            np.append(shown_c, last_c),
        )
    lowest_c = kiln.ambient_c + NEAR_ROOM_K
    if last_c <= lowest_c:
        return time_s, shown_c
    falling_c = np.geomspace(last_c - kiln.ambient_c, NEAR_ROOM_K, COOLING_POINTS)[1:]
    falling_s = kiln.cooling_time_constant_s * np.log(
        (last_c - kiln.ambient_c) / falling_c
    )
    return (
        np.append(time_s, last_s + falling_s),
        np.append(shown_c, kiln.ambient_c + falling_c),
    )
