"""Stress across a slab, from its middle to its rim, that an uneven kiln leaves.

The plate's own model looks through the thickness only. Here the slab is a disc as wide
as its longest side, followed as the mean of its thickness; `band` adds both up.
"""

from dataclasses import dataclass, replace

import numpy as np

from firing.physics.glass.properties import KELVIN, Glass, with_conductivity
from firing.physics.schedule import FloatArray
from firing.physics.slab.input import HOTTEST_C, Across, SlabFiring
from firing.physics.slab.simulation import material_of
from firing.physics.slab.surroundings import (
    AIR_AND_RADIATION,
    INSULATED,
    Boundary,
    Face,
)

# What a dam of fibre board lets through at most (25 mm of 0.15 W/(m K) and 3 mm of
# paper let through 5): assumed, without a source.
DAM_W_M2K = 5.0
# The kiln's unevenness is none in a room at this, and straight from there.
ROOM_C = 20.0
CELLS = 24
# Steps change the kiln by no more than these near the annealing range and elsewhere
# [K], and take no longer than this share of the slab's own time.
NEAR_K, FAR_K, BELOW_K, ABOVE_K = 3.0, 12.0, 150.0, 90.0
SHARE_OF_TIME = 0.5
MOST_STEPS = 20_000
TABLE_C = np.linspace(-50.0, HOTTEST_C, 126)


@dataclass(frozen=True, slots=True, kw_only=True)
class AcrossResult:
    """What an uneven kiln does to a disc; tension positive [Pa].

    Attributes
    ----------
    residual_middle_pa, residual_rim_pa : float
        What stays in the middle, either way along the plate, and along the rim.
    heating_pa, cooling_pa : float
        Largest tension on the way to the hottest and from there, 0 if there was none.
    """

    residual_middle_pa: float
    residual_rim_pa: float
    heating_pa: float
    cooling_pa: float

    @property
    def residual_tension_pa(self) -> float:
        """The larger tension of both places, 0 if there is none."""
        return max(self.residual_middle_pa, self.residual_rim_pa, 0.0)


def simulate_across(
    firing: SlabFiring, across: Across, *, edge_k: float, rim: Face
) -> AcrossResult:
    """Compute what one unevenness of the kiln does to a slab.

    Parameters
    ----------
    firing : SlabFiring
        The firing, until the slab is taken out.
    across : Across
        The slab's size, and the lead of the kiln's edge.
    edge_k : float
        How much hotter the kiln is at the edge while the glass anneals [K].
    rim : Face
        What the rim sees.

    Notes
    -----
    Each place of the plate follows the kiln over it with the time constant
    rho cp d / U, where U lets through what the faces' films and the plate's own
    resistance d/(3 k) (one face) or d/(6 k) to each of two faces do.

    References
    ----------
    `across_march`; the resistance of a plate that warms evenly, derived.
    """
    from firing.physics.slab import across_march

    path = _path(firing, across, edge_k=edge_k, rim=rim)
    pulls = np.zeros((path.shape[0] + 1, 2))
    start_k = float(path[0, across_march.KILN])
    fictive_c = firing.fictive_start_c
    if fictive_c is None:
        fictive_c = max(start_k - KELVIN, firing.glass.coldest_fictive_c)
    across_march.march_disc(
        material_of(firing.glass),
        path,
        fictive_c + KELVIN,
        firing.is_relaxing,
        CELLS,
        pulls,
    )
    hottest = int(np.argmax(path[:, across_march.KILN]))
    # Loose sheets do not pull at each other.
    heating = pulls[:hottest] if firing.stack is None else pulls[:0]
    return AcrossResult(
        residual_middle_pa=float(pulls[-1, 0]),
        residual_rim_pa=float(pulls[-1, 1]),
        heating_pa=float(np.max(heating, initial=0.0)),
        cooling_pa=float(np.max(pulls[hottest:-1], initial=0.0)),
    )


def likely_and_extremes(
    firing: SlabFiring, across: Across, conductivity_share: float
) -> tuple[AcrossResult, ...]:
    """Compute a slab in the middle of what its kiln may be, and at both ends.

    Parameters
    ----------
    firing : SlabFiring
        The firing.
    across : Across
        How uneven the kiln may be.
    conductivity_share : float
        At the ends the conductivity is that share lower: it evens out less.

    Returns
    -------
    tuple of AcrossResult
        The middle first.

    References
    ----------
    `simulate_across`.
    """
    slow = _slow(firing, conductivity_share)
    return (
        simulate_across(firing, across, edge_k=sum(across.edge_k) / 2, rim=INSULATED),
        *(
            simulate_across(slow, across, edge_k=edge_k, rim=INSULATED)
            for edge_k in dict.fromkeys(across.edge_k)
        ),
    )


def through_the_rim(
    firing: SlabFiring, across: Across, conductivity_share: float
) -> AcrossResult:
    """Compute what heat through the rim does in an even kiln: a bound.

    Parameters
    ----------
    firing, across, conductivity_share
        As in `likely_and_extremes`.

    Notes
    -----
    A slab whose bottom is insulated stands in dams, which let through at most what
    fibre board does, with the kiln behind it; any other sees the kiln with its rim.
    Near a rim the plate is no membrane any more: its own thickness from it, the stress
    is less.

    References
    ----------
    `simulate_across`; what dams let through is assumed.
    """
    faces = (firing.boundary.bottom, firing.boundary.top)
    is_dammed = any(face.is_insulated for face in faces)
    rim = Face(film_w_m2k=DAM_W_M2K) if is_dammed else AIR_AND_RADIATION
    slow = _slow(firing, conductivity_share)
    return simulate_across(slow, replace(across, lead_s=0.0), edge_k=0.0, rim=rim)


def _slow(firing: SlabFiring, conductivity_share: float) -> SlabFiring:
    glass = with_conductivity(firing.glass, 1 - conductivity_share)
    return replace(firing, glass=glass)


def _path(
    firing: SlabFiring, across: Across, *, edge_k: float, rim: Face
) -> FloatArray:
    """Return what `march_disc` goes along."""
    time_s, kiln_c = _until_out(firing)
    glass, d = firing.glass, firing.thickness_m
    table = _follow_table(glass, firing.boundary, d)
    time_s, kiln_c = _in_steps(time_s, kiln_c, glass, table)
    heat, conductivity, follows = (
        np.interp(kiln_c, TABLE_C, column) for column in table
    )
    cell_m = across.radius_m / CELLS
    rising = np.diff(kiln_c, prepend=kiln_c[0])
    taken_s = np.diff(time_s, prepend=time_s[0])
    rate = np.divide(rising, taken_s, out=np.zeros_like(rising), where=taken_s > 0)
    hotter = (kiln_c - ROOM_C) / (glass.annealing_point_c - ROOM_C)
    return np.column_stack(
        [
            time_s,
            kiln_c + KELVIN,
            edge_k * np.maximum(hotter, 0.0) + across.lead_s * rate,
            conductivity / heat / cell_m**2,
            follows,
            rim.lets_through(kiln_c + KELVIN) / heat / cell_m,
        ]
    )


def _until_out(firing: SlabFiring) -> tuple[FloatArray, FloatArray]:
    if firing.opened_s is None:
        return firing.time_s, firing.kiln_c
    inside = firing.time_s <= firing.opened_s
    return firing.time_s[inside], firing.kiln_c[inside]


def _follow_table(
    glass: Glass, boundary: Boundary, thickness_m: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return rho cp, k and U/(rho cp d), each over `TABLE_C`."""
    kelvins = TABLE_C + KELVIN
    heat = glass.density_kg_m3 * np.array(
        [glass.heat_capacity.at(float(one)) for one in kelvins]
    )
    conductivity = glass.conductivity_w_mk[0] + glass.conductivity_w_mk[1] * TABLE_C
    faces = [one for one in (boundary.bottom, boundary.top) if not one.is_insulated]
    # A face that has half the plate for itself is half as far from its heat.
    inside = thickness_m / (3 * len(faces)) / conductivity
    through = np.zeros_like(TABLE_C)
    for face in faces:
        outside = 0.0 if face.is_at_kiln_temperature else 1 / face.lets_through(kelvins)
        through += 1 / (inside + outside)
    return heat, conductivity, through / (heat * thickness_m)


def _in_steps(
    time_s: FloatArray,
    kiln_c: FloatArray,
    glass: Glass,
    table: tuple[FloatArray, FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """Return the history with points so close that a step changes little."""
    if time_s.size == 1:
        return time_s, kiln_c
    low_c = np.minimum(kiln_c[:-1], kiln_c[1:])
    high_c = np.maximum(kiln_c[:-1], kiln_c[1:])
    is_near = (high_c > glass.annealing_point_c - BELOW_K) & (
        low_c < glass.annealing_point_c + ABOVE_K
    )
    by_k = (high_c - low_c) / np.where(is_near, NEAR_K, FAR_K)
    by_time = np.diff(time_s) * np.interp(high_c, TABLE_C, table[2]) / SHARE_OF_TIME
    # A step in which nothing happens any more need not be cut short.
    pieces = np.ceil(np.maximum(by_k, np.minimum(by_time, 60.0))).clip(1, 2000)
    starts = np.arange(time_s.size - 1)
    at = np.repeat(starts, pieces.astype(int))
    first = np.concatenate([[0], np.cumsum(pieces.astype(int))[:-1]])
    share = (np.arange(at.size) - first[at] + 1) / pieces[at]
    return (
        np.append(time_s[0], time_s[at] + share * np.diff(time_s)[at]),
        np.append(kiln_c[0], kiln_c[at] + share * np.diff(kiln_c)[at]),
    )
