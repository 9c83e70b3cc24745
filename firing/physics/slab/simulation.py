"""What a slab goes through in a firing: the kiln's history in, what the glass went
through out.

The front of the engine: it translates for `march`. `input` is what goes in, `result`
what comes out, and `band` how sure that is. No schedule is designed or judged here.
"""

import math

import numpy as np

from firing.physics.glass.properties import KELVIN, Glass
from firing.physics.refusals import Cause
from firing.physics.schedule import FloatArray, PhysicsProblem
from firing.physics.slab.input import DEFAULT_ACCURACY, Accuracy, SlabFiring
from firing.physics.slab.result import FiringResult, read_result
from firing.physics.slab.surroundings import IN_THE_ROOM, INSULATED, Bending, Boundary

# Steps change no temperature by more than the first in the annealing range, from
# BAND_BELOW_K under to BAND_ABOVE_K over the annealing point, and than the second
# elsewhere [K].
NEAR_K, FAR_K = 4.0, 10.0
BAND_BELOW_K, BAND_ABOVE_K = 150.0, 90.0
# Allowed error of one step: of temperature [K], where all glass is fluid [K], as a
# share of the difference through the slab, and of the fictive temperature [K].
HEAT_ERROR_K, HEAT_ERROR_HOT_K, HEAT_ERROR_SHARE = 1e-3, 5e-2, 2e-4
FICTIVE_ERROR_K = 3e-3
RESTART_SHARE = 0.002  # of d²/kappa
SETTLED_K = 1e-4


def simulate(
    firing: SlabFiring, accuracy: Accuracy = DEFAULT_ACCURACY, *, trace_slots: int = 0
) -> FiringResult:
    """Compute what a slab goes through in a firing.

    Parameters
    ----------
    firing : SlabFiring
        Glass, slab, kiln history.
    accuracy : Accuracy
        Nodes and steps.
    trace_slots : int
        How many points in time to keep, 0 to 100000; memory depends on it alone.

    Returns
    -------
    FiringResult
        Peaks, residuals, temperatures, balances.

    Raises
    ------
    PhysicsProblem
        If the computation needs more steps than allowed or leaves the finite numbers;
        bad data are refused when the `SlabFiring` is made.

    Notes
    -----
    Heat: `conduction`. Relaxation: `relaxation`. Stress: `stress`. Steps: at most 4 K
    in the annealing range and 10 K elsewhere, shorter where an estimated error says
    so, landing on each point of the history and starting at 0.002 d²/kappa where its
    slope changes.

    A slab whose faces see the same is computed by half.

    References
    ----------
    Those of the three modules.
    """
    # Only code that computes loads the compiled engine, not whoever imports a name.
    from firing.physics.slab import march

    if not 0 <= trace_slots <= 100_000:
        raise PhysicsProblem(Cause.TRACE_SLOTS, slots=str(trace_slots))
    time_s, kiln_c = _with_edges(firing)
    is_half = _is_mirrored(firing, accuracy)
    nodes = (accuracy.nodes + 1) // 2 if is_half else accuracy.nodes
    profile = np.zeros((3, nodes))
    peaks = np.zeros((3, march.PEAK_COLUMNS))
    trace = np.zeros((trace_slots, march.TRACE_COLUMNS))
    totals = np.zeros(march.TOTALS)
    march.march(
        material_of(firing.glass),
        _plate(firing, kiln_c, is_half=is_half),
        _control(firing, accuracy),
        time_s,
        kiln_c + KELVIN,
        profile,
        peaks,
        trace,
        totals,
    )
    _check_status(int(totals[march.STATUS]), accuracy)
    if is_half:
        profile = np.concatenate([profile[:, :0:-1], profile], axis=1)
        peaks[:, march.PEAK_HEIGHT] += firing.thickness_m / 2
        for heat in (march.HEAT_ENTERED, march.HEAT_STORED, march.HEAT_MOVED):
            totals[heat] *= 2
    return read_result(firing, profile, peaks, trace, totals)


def _is_mirrored(firing: SlabFiring, accuracy: Accuracy) -> bool:
    """Return whether the lower half does what the upper one does, so that half is enough.

    Simpson's rule needs an odd number of nodes in the half, too.
    """
    return firing.boundary.bottom == firing.boundary.top and accuracy.nodes % 4 == 1


def _check_status(status: int, accuracy: Accuracy) -> None:
    from firing.physics.slab import march

    if status == march.TOO_MANY_STEPS:
        raise PhysicsProblem(Cause.TOO_MANY_STEPS, most=str(accuracy.most_steps))
    if status == march.STEP_TOO_SMALL:
        raise PhysicsProblem(Cause.STEPS_TOO_SMALL)
    if status == march.NOT_FINITE:
        raise PhysicsProblem(Cause.NOT_FINITE)


def _with_edges(firing: SlabFiring) -> tuple[FloatArray, FloatArray]:
    """Return the history with points where the window starts and ends, and the opening."""
    time_s = np.ascontiguousarray(firing.time_s, dtype=np.float64)
    kiln_c = np.ascontiguousarray(firing.kiln_c, dtype=np.float64)
    edges_s = (*(firing.window_s or ()), firing.opened_s)
    for edge_s in edges_s:
        if edge_s is None:
            continue
        if time_s[0] < edge_s < time_s[-1] and edge_s not in time_s:
            place = int(np.searchsorted(time_s, edge_s))
            edge_c = np.interp(edge_s, time_s, kiln_c)
            time_s = np.insert(time_s, place, edge_s)
            kiln_c = np.insert(kiln_c, place, edge_c)
    return time_s, kiln_c


def material_of(glass: Glass) -> tuple[object, ...]:
    """Return a glass as the compiled marches take it, a `march.Material`.

    Parameters
    ----------
    glass : Glass
        Its data.
    """
    from firing.physics.slab.march import Material

    shear, shear_speeds = _columns(glass.shear_spectrum)
    bulk, bulk_speeds = _columns(glass.bulk_spectrum)
    structural, structural_speeds = _columns(glass.structural_spectrum)
    return Material(
        density=float(glass.density_kg_m3),
        conductivity=(
            float(glass.conductivity_w_mk[0]),
            float(glass.conductivity_w_mk[1]),
        ),
        heat=tuple(float(number) for number in glass.heat_capacity.numbers()),
        expansion_glass=float(glass.expansion_glass_per_k),
        expansion_liquid=float(glass.expansion_liquid_per_k),
        shear_modulus=float(glass.shear_modulus_pa),
        bulk_modulus=float(glass.bulk_modulus_pa),
        plateau=float(glass.bulk_plateau),
        activation=float(glass.activation_k),
        x=float(glass.nonlinearity_x),
        reference=float(glass.reference_temperature_k),
        annealing=float(glass.annealing_point_c) + KELVIN,
        shear=shear,
        shear_speeds=shear_speeds,
        bulk=bulk,
        bulk_speeds=bulk_speeds,
        structural=structural,
        structural_speeds=structural_speeds,
    )


def _columns(
    spectrum: tuple[tuple[float, float], ...],
) -> tuple[FloatArray, FloatArray]:
    weights = np.array([weight for weight, _ in spectrum], dtype=np.float64)
    speeds = np.array([1 / time_s for _, time_s in spectrum], dtype=np.float64)
    return weights, speeds


def _plate(
    firing: SlabFiring, kiln_c: FloatArray, *, is_half: bool
) -> tuple[object, ...]:
    from firing.physics.slab.march import Plate

    start_c = float(kiln_c[0] if firing.start_c is None else firing.start_c)
    fictive_c = firing.fictive_start_c
    if fictive_c is None:
        fictive_c = max(start_c, firing.glass.coldest_fictive_c)
    stack = firing.stack
    return Plate(
        thickness=float(firing.thickness_m),
        is_half=is_half,
        faces=_faces(firing.boundary, is_half=is_half),
        opened=_faces(IN_THE_ROOM, is_half=is_half),
        opens_at=math.inf if firing.opened_s is None else float(firing.opened_s),
        # The two halves bend each other back.
        is_free=firing.bending is Bending.FREE and not is_half,
        relaxes=bool(firing.is_relaxing),
        start=start_c + KELVIN,
        fictive_start=float(fictive_c) + KELVIN,
        sheet=float(stack.sheet_m) if stack else 0.0,
        joins=float(stack.joins_c) + KELVIN if stack else 0.0,
    )


def _faces(boundary: Boundary, *, is_half: bool) -> tuple[float, ...]:
    return tuple(
        float(number)
        for face in (INSULATED if is_half else boundary.bottom, boundary.top)
        for number in (face.is_at_kiln_temperature, face.film_w_m2k, face.emissivity)
    )


def _control(firing: SlabFiring, accuracy: Accuracy) -> tuple[object, ...]:
    from firing.physics.slab.march import Control

    factor = accuracy.step_factor
    window_s = firing.window_s or (-math.inf, math.inf)
    return Control(
        near_k=NEAR_K * factor,
        far_k=FAR_K * factor,
        band_below_k=BAND_BELOW_K,
        band_above_k=BAND_ABOVE_K,
        # The local error of a method of second order is of third order in the step.
        heat_k=HEAT_ERROR_K * factor**3,
        heat_hot_k=HEAT_ERROR_HOT_K * factor**3,
        heat_share=HEAT_ERROR_SHARE * factor**3,
        fictive_k=FICTIVE_ERROR_K * factor**3,
        restart=RESTART_SHARE * factor,
        most_steps=int(accuracy.most_steps),
        settle=bool(firing.settle),
        settled_k=SETTLED_K,
        window_start=float(window_s[0]),
        window_end=float(window_s[1]),
        opening=float(firing.opening_c) + KELVIN,
    )
