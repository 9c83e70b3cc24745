"""What a slab goes through in a firing: the kiln's history in, what the glass felt out.

The engine's front: it checks and translates; the march itself is in `firing_march`, and
how sure a result is, in `band`. No schedule is designed or judged here.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firing.physics.glass import KELVIN, Glass
from firing.physics.schedule import PhysicsProblem
from firing.physics.surroundings import Bending, Boundary

FloatArray = NDArray[np.float64]

THINNEST_M, THICKEST_M = 5e-4, 0.5
COLDEST_C, HOTTEST_C = -50.0, 1200.0
LONGEST_HISTORY_S = 1e11

# 21 are enough for stress; a face that jumps by hundreds of degrees needs 25 for the
# middle to be right to a thousandth of the jump.
DEFAULT_NODES = 25
REPORT_NODES = 41

# Common practice, no source: sheets have become one piece.
STACK_JOINS_C = 670.0

# Retardation [nm/cm] of 1 MPa and 1 brewster: 1e6 Pa x 1e-12 1/Pa x 1e-2 m.
NM_PER_CM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseStack:
    """Sheets that lie on each other until they fuse.

    Until the coldest glass reaches `joins_c`, heat passes through the whole stack as
    through one slab (perfect contact, an assumption), and each sheet carries its own
    stress. From then on it is one slab, free of stress.

    Attributes
    ----------
    sheet_m : float
        Thickness of one sheet [m].
    joins_c : float
        Where the sheets have become one [°C]; 650 to 700 is common practice.
    """

    sheet_m: float
    joins_c: float = STACK_JOINS_C


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """How finely a firing is computed.

    Each step's error is estimated and a step with too large a one is taken again. At
    the default, residual and peak stress of a firing are within 0.2 % or 0.003 MPa of
    the converged ones; `simulate_with_error` says by how much in a case at hand.

    Attributes
    ----------
    nodes : int
        Nodes through the thickness, odd, 5 to 401; one lies on each face.
    step_factor : float
        Scales the length of steps: a half halves them all. 0.02 to 8.
    most_steps : int
        Where to give up.
    """

    nodes: int = DEFAULT_NODES
    step_factor: float = 1.0
    most_steps: int = 500_000

    def __post_init__(self) -> None:
        if not (5 <= self.nodes <= 401 and self.nodes % 2):
            raise PhysicsProblem(
                f"The number of nodes is odd and 5 to 401, not {self.nodes}."
            )
        if not 0.02 <= self.step_factor <= 8:
            raise PhysicsProblem(
                f"The step factor is 0.02 to 8, not {self.step_factor:g}."
            )
        if self.most_steps < 1:
            raise PhysicsProblem("The number of steps to give up at is above zero.")


FOR_REPORTS = Accuracy(nodes=REPORT_NODES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Firing:
    """One firing of one slab.

    Attributes
    ----------
    glass : Glass
        What it is made of.
    thickness_m : float
        d [m], 0.0005 to 0.5.
    boundary : Boundary
        What its faces see.
    time_s, kiln_c : ndarray, shape (h,)
        The kiln's history [s, °C], straight between points; times never decrease, and
        two equal ones are a jump. One point is a history too.
    bending : Bending
        Free to bend, or held flat.
    start_c : float or None
        The glass, uniform, at the start [°C]; None is the kiln's first temperature.
    fictive_start_c : float or None
        Its fictive temperature [°C]; None is `start_c`, but not below that of a well
        annealed piece.
    stack : LooseStack or None
        Sheets that are still loose; None is one slab from the start.
    settle : bool
        Hold the last temperature until the slab is uniform before residuals are read.
    window_s : tuple of two floats or None
        What the window's results are over [s]; None is the whole history.
    opening_c : float
        Where the glass may be looked at [°C].
    is_relaxing : bool
        False: an elastic slab, without relaxation of any kind.
    """

    glass: Glass
    thickness_m: float
    boundary: Boundary
    time_s: FloatArray
    kiln_c: FloatArray
    bending: Bending = Bending.FREE
    start_c: float | None = None
    fictive_start_c: float | None = None
    stack: LooseStack | None = None
    settle: bool = True
    window_s: tuple[float, float] | None = None
    opening_c: float = 50.0
    is_relaxing: bool = True

    def __post_init__(self) -> None:
        _check_firing(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """The largest tension of a kind, and where and when it was.

    Attributes
    ----------
    tension_pa : float
        Tension [Pa], 0 when there was none.
    at_s : float
        When [s].
    height_m : float
        How high above the bottom face [m].
    kiln_c : float
        The kiln's temperature then [°C].
    """

    tension_pa: float
    at_s: float
    height_m: float
    kiln_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """Through the thickness at the end; each of shape (nodes,), bottom first.

    Attributes
    ----------
    height_m, temperature_c, fictive_c, stress_pa : ndarray
        Height [m], temperature and fictive temperature [°C], stress [Pa, tension
        positive]. In a stack that stayed loose the stress is that at the middle of the
        sheet at each height; its faces have minus twice that.
    """

    height_m: FloatArray
    temperature_c: FloatArray
    fictive_c: FloatArray
    stress_pa: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """The firing over time in a fixed number of slots; each of shape (slots,).

    Attributes
    ----------
    time_s, kiln_c : ndarray
        Time [s], kiln [°C].
    bottom_c, middle_c, top_c : ndarray
        Glass [°C].
    tension_pa : ndarray
        Largest tension anywhere in the slab since the slot before [Pa].
    fictive_middle_c : ndarray
        Fictive temperature at the middle [°C].
    """

    time_s: FloatArray
    kiln_c: FloatArray
    bottom_c: FloatArray
    middle_c: FloatArray
    top_c: FloatArray
    tension_pa: FloatArray
    fictive_middle_c: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnostics:
    """Whether the computation kept its own books.

    Attributes
    ----------
    steps, refused_steps : int
        Steps taken, and attempts that were too inexact and taken again.
    energy_error : float
        Heat taken up less heat let in, as a share of all heat moved (at least of what
        warms the slab by one degree).
    force_error, moment_error : float
        By how much force and moment missed zero at worst, as a share of what acts.
    """

    steps: int
    refused_steps: int
    energy_error: float
    force_error: float
    moment_error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FiringResult:
    """What the glass went through. Stress in Pa, tension positive.

    Attributes
    ----------
    residual_mid_pa, residual_top_pa, residual_bottom_pa, residual_max_tension_pa : float
        Stress that stays: in the middle, on the faces, and the largest tension [Pa].
    retardation_nm_cm : float
        What a polariscope shows edge-on for the largest residual tension [nm/cm].
    heating, cooling, window : Peak
        Largest tension while the slab took up heat, while it gave heat off, and in the
        window.
    window_difference_k : float
        Largest temperature difference through the slab in the window [K].
    fictive_mean_c, fictive_spread_k : float
        Fictive temperature: mean [°C], and largest less smallest [K].
    end_bottom_c, end_middle_c, end_top_c : float
        Glass when the history ends, before it settles [°C].
    cool_since_s : float or None
        Since when all the glass has stayed at the opening temperature or below [s];
        None if it never got there. It may lie past the history's end while settling.
    joined_at_s : float or None
        When a loose stack became one slab [s]; None if it stayed loose.
    settled_at_s : float or None
        When the slab was uniform after the history [s].
    bow_per_m : float
        Curvature that stays, upwards bowl positive [1/m]; bow of a length L is
        curvature L²/8.
    profile : Profile
        Through the thickness at the end.
    trace : Trace or None
        Over time, if slots were asked for.
    diagnostics : Diagnostics
        Steps and balances.
    """

    residual_mid_pa: float
    residual_top_pa: float
    residual_bottom_pa: float
    residual_max_tension_pa: float
    retardation_nm_cm: float
    heating: Peak
    cooling: Peak
    window: Peak
    window_difference_k: float
    fictive_mean_c: float
    fictive_spread_k: float
    end_bottom_c: float
    end_middle_c: float
    end_top_c: float
    cool_since_s: float | None
    joined_at_s: float | None
    settled_at_s: float | None
    bow_per_m: float
    profile: Profile = field(repr=False)
    trace: Trace | None = field(repr=False)
    diagnostics: Diagnostics


DEFAULT_ACCURACY = Accuracy()

# Steps change no temperature by more than the first in the annealing range, from
# BAND_BELOW_K under to BAND_ABOVE_K over the annealing point, and than the second
# elsewhere [K].
NEAR_K, FAR_K = 4.0, 10.0
BAND_BELOW_K, BAND_ABOVE_K = 150.0, 90.0
# Allowed error of one step: of temperature [K], where all glass is fluid [K], as a
# share of the difference through the slab, and of the fictive temperature [K].
HEAT_ERROR_K, HEAT_ERROR_HOT_K, HEAT_ERROR_SHARE = 1e-3, 5e-2, 2e-4
FICTIVE_ERROR_K = 1e-3
RESTART_SHARE = 0.002  # of d²/kappa
SETTLED_K = 1e-4


def simulate(
    firing: Firing, accuracy: Accuracy = DEFAULT_ACCURACY, *, trace_slots: int = 0
) -> FiringResult:
    """Compute what a slab goes through in a firing.

    Parameters
    ----------
    firing : Firing
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
        bad data are refused when the `Firing` is made.

    Notes
    -----
    Heat: `conduction`. Relaxation: `relaxation`. Stress: `stress`. Steps: at most 4 K
    in the annealing range and 10 K elsewhere, shorter where an estimated error says
    so, landing on each point of the history and starting at 0.002 d²/kappa where its
    slope changes.

    References
    ----------
    Those of the three modules.
    """
    # Compiled code is loaded by those who compute, not by those who import a name.
    from firing.physics import firing_march as march

    if not 0 <= trace_slots <= 100_000:
        raise PhysicsProblem(f"A trace has 0 to 100000 slots, not {trace_slots}.")
    time_s, kiln_c = _with_window(firing)
    profile = np.zeros((3, accuracy.nodes))
    peaks = np.zeros((3, march.PEAK_COLUMNS))
    trace = np.zeros((trace_slots, march.TRACE_COLUMNS))
    totals = np.zeros(march.TOTALS)
    march.march(
        _material(firing.glass),
        _plate(firing, kiln_c),
        _control(firing, accuracy),
        time_s,
        kiln_c + KELVIN,
        profile,
        peaks,
        trace,
        totals,
    )
    _check_status(int(totals[march.STATUS]), accuracy)
    return _result(firing, profile, peaks, trace, totals)


def simulate_with_error(
    firing: Firing, accuracy: Accuracy = DEFAULT_ACCURACY
) -> tuple[FiringResult, float]:
    """Compute a firing, and by how much its stresses may be numerically wrong.

    Parameters
    ----------
    firing : Firing
        Glass, slab, kiln history.
    accuracy : Accuracy
        Nodes and steps of the better of two computations.

    Returns
    -------
    tuple
        The result, and the largest difference of its residuals and peaks [Pa] to a
        computation with half the nodes and steps twice as long. Both methods are of
        second order, so the true error is about a third of it.

    Raises
    ------
    PhysicsProblem
        As `simulate`.

    References
    ----------
    Richardson's extrapolation (from memory).
    """
    fine = simulate(firing, accuracy)
    half = (accuracy.nodes - 1) // 2
    coarse = simulate(
        firing,
        Accuracy(
            nodes=max(half + half % 2, 4) + 1,
            step_factor=min(2 * accuracy.step_factor, 8),
            most_steps=accuracy.most_steps,
        ),
    )
    return fine, max(
        abs(fine.residual_mid_pa - coarse.residual_mid_pa),
        abs(fine.residual_top_pa - coarse.residual_top_pa),
        abs(fine.residual_bottom_pa - coarse.residual_bottom_pa),
        abs(fine.heating.tension_pa - coarse.heating.tension_pa),
        abs(fine.cooling.tension_pa - coarse.cooling.tension_pa),
    )


def warm_up() -> None:
    """Compile or load the kernel, so that the next firing is computed at full speed.

    Notes
    -----
    Takes seconds when nothing is cached on disk, and a fraction of one when it is.

    References
    ----------
    None: no physics.
    """
    from firing.physics.glass_families import NINETY
    from firing.physics.surroundings import BOTH_FACES

    simulate(
        Firing(
            glass=NINETY,
            thickness_m=0.006,
            boundary=BOTH_FACES,
            time_s=np.array([0.0, 60.0]),
            kiln_c=np.array([20.0, 21.0]),
        )
    )


def _check_firing(firing: Firing) -> None:
    if not THINNEST_M <= firing.thickness_m <= THICKEST_M:
        raise PhysicsProblem(
            f"A thickness of {firing.thickness_m * 1000:g} mm cannot be computed; give "
            f"{THINNEST_M * 1000:g} to {THICKEST_M * 1000:g} mm."
        )
    _check_history(firing.time_s, firing.kiln_c)
    _check_temperature("The glass at the start", firing.start_c)
    _check_temperature("The fictive temperature", firing.fictive_start_c)
    _check_temperature("The opening temperature", firing.opening_c)
    if firing.window_s is not None:
        start_s, end_s = firing.window_s
        if not start_s <= end_s:
            raise PhysicsProblem("The window must end after it starts.")
        if not (start_s <= firing.time_s[-1] and end_s >= firing.time_s[0]):
            raise PhysicsProblem("The window lies outside the kiln's history.")
    stack = firing.stack
    if stack is not None:
        if not 1e-4 <= stack.sheet_m <= firing.thickness_m:
            raise PhysicsProblem(
                f"A sheet of {stack.sheet_m * 1000:g} mm does not fit a stack of "
                f"{firing.thickness_m * 1000:g} mm; give 0.1 mm up to the stack's height."
            )
        if not firing.glass.annealing_point_c < stack.joins_c <= HOTTEST_C:
            raise PhysicsProblem(
                f"Sheets do not fuse at {stack.joins_c:g} °C; the temperature at which "
                "they have become one lies above the annealing point, near 670 °C."
            )


def _check_history(time_s: FloatArray, kiln_c: FloatArray) -> None:
    if time_s.ndim != 1 or time_s.shape != kiln_c.shape or time_s.size == 0:
        raise PhysicsProblem(
            "The kiln's history needs as many temperatures as times, and at least one."
        )
    for values, what in ((time_s, "times"), (kiln_c, "temperatures")):
        if not np.all(np.isfinite(values)):
            place = int(np.flatnonzero(~np.isfinite(values))[0])
            raise PhysicsProblem(
                f"The {what} of the kiln's history are not all numbers: point "
                f"{place + 1} is {values[place]}. Leave it out or correct it."
            )
    if np.any(np.diff(time_s) < 0):
        place = int(np.flatnonzero(np.diff(time_s) < 0)[0])
        raise PhysicsProblem(
            f"Time goes backwards at point {place + 2} of the kiln's history, from "
            f"{time_s[place]:g} to {time_s[place + 1]:g} s. Put the points in order."
        )
    if max(abs(time_s[0]), abs(time_s[-1])) > LONGEST_HISTORY_S:
        raise PhysicsProblem(
            "The kiln's history is longer than the model goes: 1e11 s."
        )
    low_c, high_c = float(np.min(kiln_c)), float(np.max(kiln_c))
    if low_c < COLDEST_C or high_c > HOTTEST_C:
        wrong_c = low_c if low_c < COLDEST_C else high_c
        raise PhysicsProblem(
            f"The kiln's history goes to {wrong_c:g} °C; the model holds from "
            f"{COLDEST_C:g} to {HOTTEST_C:g} °C. Check the unit."
        )


def _check_temperature(what: str, value_c: float | None) -> None:
    if value_c is not None and not COLDEST_C <= value_c <= HOTTEST_C:
        raise PhysicsProblem(
            f"{what} is {value_c:g} °C; the model holds from {COLDEST_C:g} to "
            f"{HOTTEST_C:g} °C."
        )


def _check_status(status: int, accuracy: Accuracy) -> None:
    from firing.physics import firing_march as march

    if status == march.TOO_MANY_STEPS:
        raise PhysicsProblem(
            f"This firing needs more than {accuracy.most_steps} steps. Thin out the "
            "history, or allow longer steps."
        )
    if status == march.STEP_TOO_SMALL:
        raise PhysicsProblem(
            "The steps became too small to go on. Check the history for jumps that no "
            "kiln makes, and the glass's numbers."
        )
    if status == march.NOT_FINITE:
        raise PhysicsProblem(
            "The computation left the finite numbers. Check the glass's numbers: "
            "conductivity, specific heat and relaxation times."
        )


def _with_window(firing: Firing) -> tuple[FloatArray, FloatArray]:
    """Return the history with points where the window starts and ends."""
    time_s = np.ascontiguousarray(firing.time_s, dtype=np.float64)
    kiln_c = np.ascontiguousarray(firing.kiln_c, dtype=np.float64)
    for edge_s in firing.window_s or ():
        if time_s[0] < edge_s < time_s[-1] and edge_s not in time_s:
            place = int(np.searchsorted(time_s, edge_s))
            edge_c = np.interp(edge_s, time_s, kiln_c)
            time_s = np.insert(time_s, place, edge_s)
            kiln_c = np.insert(kiln_c, place, edge_c)
    return time_s, kiln_c


def _material(glass: Glass) -> tuple[object, ...]:
    from firing.physics.firing_march import Material

    shear, shear_s = _columns(glass.shear_spectrum)
    bulk, bulk_s = _columns(glass.bulk_spectrum)
    structural, structural_s = _columns(glass.structural_spectrum)
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
        shear_s=shear_s,
        bulk=bulk,
        bulk_s=bulk_s,
        structural=structural,
        structural_s=structural_s,
    )


def _columns(
    spectrum: tuple[tuple[float, float], ...],
) -> tuple[FloatArray, FloatArray]:
    weights = np.array([weight for weight, _ in spectrum], dtype=np.float64)
    seconds = np.array([time_s for _, time_s in spectrum], dtype=np.float64)
    return weights, seconds


def _plate(firing: Firing, kiln_c: FloatArray) -> tuple[object, ...]:
    from firing.physics.firing_march import Plate

    start_c = float(kiln_c[0] if firing.start_c is None else firing.start_c)
    fictive_c = firing.fictive_start_c
    if fictive_c is None:
        fictive_c = max(start_c, firing.glass.coldest_fictive_c)
    bottom, top = firing.boundary.bottom, firing.boundary.top
    stack = firing.stack
    return Plate(
        thickness=float(firing.thickness_m),
        faces=(
            float(bottom.is_at_kiln_temperature),
            float(bottom.film_w_m2k),
            float(bottom.emissivity),
            float(top.is_at_kiln_temperature),
            float(top.film_w_m2k),
            float(top.emissivity),
        ),
        is_free=firing.bending is Bending.FREE,
        relaxes=bool(firing.is_relaxing),
        start=start_c + KELVIN,
        fictive_start=float(fictive_c) + KELVIN,
        sheet=float(stack.sheet_m) if stack else 0.0,
        joins=float(stack.joins_c) + KELVIN if stack else 0.0,
    )


def _control(firing: Firing, accuracy: Accuracy) -> tuple[object, ...]:
    from firing.physics.firing_march import Control

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


def _result(
    firing: Firing,
    profile: FloatArray,
    peaks: FloatArray,
    trace: FloatArray,
    totals: FloatArray,
) -> FiringResult:
    from firing.physics import firing_march as march

    sigma, fictive_c = profile[2], profile[1] - KELVIN
    middle, bottom, top, tension = _residuals(sigma, is_loose=totals[march.STILL_LOOSE])
    # A slab that nothing happens to is measured by the heat of one degree.
    glass = firing.glass
    one_degree = glass.density_kg_m3 * glass.heat_capacity.at(KELVIN + 100)
    moved = max(float(totals[march.HEAT_MOVED]), one_degree * firing.thickness_m)
    return FiringResult(
        residual_mid_pa=middle,
        residual_top_pa=top,
        residual_bottom_pa=bottom,
        residual_max_tension_pa=tension,
        retardation_nm_cm=NM_PER_CM * glass.stress_optic_brewster * tension / 1e6,
        heating=_peak(peaks[march.HEATING]),
        cooling=_peak(peaks[march.COOLING]),
        window=_peak(peaks[march.WINDOW]),
        window_difference_k=float(totals[march.WINDOW_DIFFERENCE]),
        fictive_mean_c=_mean(fictive_c),
        fictive_spread_k=float(np.ptp(fictive_c)),
        end_bottom_c=float(totals[march.END_BOTTOM]) - KELVIN,
        end_middle_c=float(totals[march.END_MIDDLE]) - KELVIN,
        end_top_c=float(totals[march.END_TOP]) - KELVIN,
        cool_since_s=_or_none(totals[march.COOL_SINCE]),
        joined_at_s=_or_none(totals[march.JOINED_AT]),
        settled_at_s=_or_none(totals[march.SETTLED_AT]),
        bow_per_m=float(totals[march.CURVATURE]),
        profile=Profile(
            height_m=np.linspace(0, firing.thickness_m, sigma.size),
            temperature_c=profile[0] - KELVIN,
            fictive_c=fictive_c,
            stress_pa=sigma,
        ),
        trace=_trace(trace) if trace.size else None,
        diagnostics=Diagnostics(
            steps=int(totals[march.STEPS]),
            refused_steps=int(totals[march.REFUSED_STEPS]),
            energy_error=abs(
                float(totals[march.HEAT_STORED] - totals[march.HEAT_ENTERED])
            )
            / moved,
            force_error=float(totals[march.FORCE_ERROR]),
            moment_error=float(totals[march.MOMENT_ERROR]),
        ),
    )


def _residuals(
    sigma: FloatArray, *, is_loose: float
) -> tuple[float, float, float, float]:
    """Return middle, bottom face, top face and largest tension [Pa]."""
    if is_loose:
        worst = float(sigma[int(np.argmax(np.abs(sigma)))])
        return worst, -2 * worst, -2 * worst, max(worst, -2 * worst, 0.0)
    middle = float(sigma[sigma.size // 2])
    tension = max(float(np.max(sigma)), 0.0)
    return middle, float(sigma[0]), float(sigma[-1]), tension


def _mean(values: FloatArray) -> float:
    """Return the mean over the thickness by Simpson's rule."""
    weights = np.where(np.arange(values.size) % 2, 4.0, 2.0)
    weights[0] = weights[-1] = 1.0
    return float(np.average(values, weights=weights))


def _peak(row: FloatArray) -> Peak:
    return Peak(
        tension_pa=float(row[0]),
        at_s=float(row[1]),
        height_m=float(row[2]),
        kiln_c=float(row[3]) - KELVIN,
    )


def _or_none(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _trace(rows: FloatArray) -> Trace:
    """Leave out slots that no step ended in: the glass ran straight through them."""
    kept = rows[~np.isnan(rows[:, 0])]
    return Trace(
        time_s=kept[:, 0],
        kiln_c=kept[:, 1] - KELVIN,
        bottom_c=kept[:, 2] - KELVIN,
        middle_c=kept[:, 3] - KELVIN,
        top_c=kept[:, 4] - KELVIN,
        tension_pa=kept[:, 5],
        fictive_middle_c=kept[:, 6] - KELVIN,
    )
