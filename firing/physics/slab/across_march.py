"""The compiled march of a disc in an uneven kiln: heat along the plate, and the stress
that its middle and its rim do to each other.

It knows arrays only; `across` says what goes in and what comes out.
"""

import sys
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from firing.physics.slab import compiled, relaxation, stress
from firing.physics.slab.compiled import entry, kernel
from firing.physics.slab.march import Material
from firing.physics.slab.relaxation import log_shift, relax_step
from firing.physics.slab.stress import relax_stress, strain_nodes

FloatArray = NDArray[np.float64]

# What is watched of a disc: its mean, its middle and its rim.
MEAN, MIDDLE, RIM = 0, 1, 2
# Share of E alpha that a place's distance from the mean pulls with: the middle is held
# from all sides and gives way, the rim along itself only.
PULLS = (0.5, 1.0)


@kernel
def conduct_along(
    cells_k: FloatArray,
    around_k: FloatArray,
    kiln_k: float,
    reach: float,
    follows: float,
    rim: float,
    above: FloatArray,
    right: FloatArray,
) -> None:
    """Take one implicit step of heat along a disc; the cells are changed in place.

    Parameters
    ----------
    cells_k, around_k : ndarray, shape (n,)
        Mean through the thickness of each ring, and the kiln over it [K].
    kiln_k : float
        What the rim sees [K].
    reach : float
        kappa times the step over the width of a ring squared.
    follows : float
        The step over the time in which the faces let a ring follow the kiln.
    rim : float
        Film at the rim times the step over rho cp and the width of a ring.
    above, right : ndarray, shape (n,)
        Room to work in.

    Notes
    -----
    dT/dt = kappa (1/r) d/dr (r dT/dr) + (kiln - T)/tau in rings of one width; backward
    Euler, and the tridiagonal system solved from the middle outwards.

    References
    ----------
    Finite volumes and Thomas's algorithm, as in any textbook (from memory).
    """
    n = cells_k.shape[0]
    for i in range(n):
        inner = reach * i / (i + 0.5)
        outer = reach * (i + 1) / (i + 0.5) if i < n - 1 else 0.0
        lost = rim * n / (n - 0.5) if i == n - 1 else 0.0
        diagonal = 1 + inner + outer + follows + lost
        value = cells_k[i] + follows * around_k[i] + lost * kiln_k
        if i > 0:
            diagonal -= inner * above[i - 1]
            value += inner * right[i - 1]
        above[i] = outer / diagonal
        right[i] = value / diagonal
    cells_k[n - 1] = right[n - 1]
    for i in range(n - 2, -1, -1):
        cells_k[i] = right[i] + above[i] * cells_k[i + 1]


@kernel
def watch(cells_k: FloatArray, places_k: FloatArray) -> None:
    """Write the mean, the middle and the rim of a disc.

    Parameters
    ----------
    cells_k : ndarray, shape (n,)
        Each ring [K].
    places_k : ndarray, shape (3,)
        Written [K].

    References
    ----------
    The rim is as far from the last ring's middle as that is from the ring before,
    halved; the middle lies on the parabola through the first two.
    """
    n = cells_k.shape[0]
    total = 0.0
    for i in range(n):
        total += (2 * i + 1) * cells_k[i]
    places_k[MEAN] = total / (n * n)
    places_k[MIDDLE] = cells_k[0] - (cells_k[1] - cells_k[0]) / 8
    places_k[RIM] = cells_k[n - 1] + (cells_k[n - 1] - cells_k[n - 2]) / 2


# Columns of a disc's path: see `march_across`.
TIME, KILN, SPREAD, REACH, FOLLOWS, RIM_FILM = range(6)


@kernel
def march_across(
    material: Material,
    path: FloatArray,
    fictive_start: float,
    relaxes: bool,  # noqa: FBT001 (compiled code takes it by position)
    cells: int,
    pulls: FloatArray,
) -> None:
    """Compute a disc through a kiln's history.

    Parameters
    ----------
    material : Material
        The glass.
    path : ndarray, shape (h, 6)
        At each moment: time [s], the kiln over the disc's middle [K], how much hotter
        it is over its rim, a parabola between [K]; and per second `reach`, `follows`
        and `rim` as in `conduct_along`.
    fictive_start : float
        [K].
    relaxes : bool
        Whether the glass does.
    cells : int
        Rings.
    pulls : ndarray, shape (h + 1, 2)
        Written: stress at the middle and along the rim [Pa]; last of all, what stays
        when the disc is even.

    Notes
    -----
    In cold glass the rim's stress is E alpha (mean - T at the rim) and the middle's
    half of E alpha (mean - T there). Both relax by the plate's own law, with the
    reduced time of the mean; what the glass remembers of its cooling counts too.

    References
    ----------
    Timoshenko & Goodier, Theory of Elasticity, the thin disc with temperature
    symmetrical about its centre (from memory); the relaxation is `stress`'s.
    """
    n, m = material.structural.shape[0], material.shear.shape[0]
    p = material.bulk.shape[0]
    start = path[0, KILN]
    around, cells_k = np.empty(cells), np.full(cells, start)
    above, right = np.empty(cells), np.empty(cells)
    before, after = np.full(3, start), np.full(3, start)
    fictive, new_fictive = np.full(3, fictive_start), np.full(3, fictive_start)
    slope, new_shift = np.zeros(3), np.zeros(3)
    shift = np.full(
        3,
        log_shift(
            start, fictive_start, material.activation, material.x, material.reference
        ),
    )
    parts, new_parts = np.full((3, n), fictive_start), np.full((3, n), fictive_start)
    reduced, shared = np.zeros(3), np.zeros(2)
    deviators, means, plateaus = np.zeros((2, m)), np.zeros((2, p)), np.zeros(2)
    shares, held = np.zeros((2, m + p)), np.zeros((2, 4))
    sigma, strain = np.zeros(2), np.zeros(2)
    more = material.expansion_liquid - material.expansion_glass
    # 1 - nu: `strain_nodes` holds a place in both directions, a rim is held in one.
    stiff = 3 * material.bulk_modulus + material.shear_modulus
    free_share = (stiff + 3 * material.shear_modulus) / (2 * stiff)
    step_before = 1.0
    last = path.shape[0] - 1
    for h in range(last + 2):
        step = 0.0
        if h > last:
            # The disc becomes even in no time: what stays.
            after[:] = before[MEAN]
            reduced[:] = 0.0
        elif h > 0:
            step = path[h, TIME] - path[h - 1, TIME]
        if 0 < h <= last and step > 0:
            kiln, spread = path[h, KILN], path[h, SPREAD]
            for i in range(cells):
                share = (i + 0.5) / cells
                around[i] = kiln + spread * share * share
            conduct_along(
                cells_k,
                around,
                kiln + spread,
                path[h, REACH] * step,
                path[h, FOLLOWS] * step,
                path[h, RIM_FILM] * step,
                above,
                right,
            )
            watch(cells_k, after)
            if relaxes:
                relax_step(
                    before,
                    after,
                    fictive,
                    slope,
                    shift,
                    parts,
                    step,
                    step_before,
                    material.structural,
                    material.structural_speeds,
                    material.activation,
                    material.x,
                    material.reference,
                    material.annealing,
                    new_fictive,
                    new_shift,
                    new_parts,
                    reduced,
                )
        if step > 0 or h > last:
            shared[:] = reduced[MEAN]
            relax_stress(
                deviators,
                means,
                plateaus,
                shared,
                material.shear,
                material.shear_speeds,
                material.bulk,
                material.bulk_speeds,
                material.shear_modulus,
                material.bulk_modulus,
                material.plateau,
                shares,
                held,
            )
            for place in (MIDDLE, RIM):
                hotter = after[place] - after[MEAN] - before[place] + before[MEAN]
                kept = (
                    new_fictive[place]
                    - new_fictive[MEAN]
                    - fictive[place]
                    + fictive[MEAN]
                )
                strain[place - 1] = -material.expansion_glass * hotter - more * kept
            strain_nodes(
                deviators,
                means,
                plateaus,
                strain,
                held,
                material.shear,
                material.bulk,
                material.shear_modulus,
                material.bulk_modulus,
                material.plateau,
                shares,
                sigma,
            )
        if step > 0:
            for place in range(3):
                slope[place] = (new_fictive[place] - fictive[place]) / step
            before[:], fictive[:], shift[:] = after, new_fictive, new_shift
            parts[:] = new_parts
            step_before = step
        for place in (MIDDLE, RIM):
            pulls[h, place - 1] = PULLS[place - 1] * free_share * sigma[place - 1]


def _build(mark: int) -> Callable[..., None]:
    """Compile the entry for this state of the code; see `compiled.fingerprint`."""

    @entry
    def march_disc(
        material: Material,
        path: FloatArray,
        fictive_start: float,
        relaxes: bool,  # noqa: FBT001 (compiled code takes it by position)
        cells: int,
        pulls: FloatArray,
    ) -> None:
        if mark >= 0:
            march_across(material, path, fictive_start, relaxes, cells, pulls)

    return march_disc


march_disc = _build(compiled.fingerprint(relaxation, stress, sys.modules[__name__]))
