"""The compiled march through one firing: heat, relaxation and stress, step after step.

It knows arrays only; what goes in and comes out, in the workshop's words, is in
`input` and `result`. Each equation is in the module of its phenomenon.
"""

import sys
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from firing.physics.slab import compiled, conduction, relaxation, stress
from firing.physics.slab.compiled import entry, kernel
from firing.physics.slab.conduction import (
    KELVIN,
    PRESCRIBED,
    conduct_step,
    fluxes,
    heat_content,
)
from firing.physics.slab.relaxation import log_shift, relax_step
from firing.physics.slab.stress import (
    balance,
    balance_errors,
    relax_stress,
    respond,
    simpson_weights,
    strain_nodes,
)

FloatArray = NDArray[np.float64]


class Material(NamedTuple):
    """A glass as the kernel takes it; units as in `glass`, temperatures in kelvin.

    Speeds are one over the times of a spectrum [1/s].
    """

    density: float
    conductivity: tuple[float, float]
    heat: tuple[float, ...]
    expansion_glass: float
    expansion_liquid: float
    shear_modulus: float
    bulk_modulus: float
    plateau: float
    activation: float
    x: float
    reference: float
    annealing: float
    shear: FloatArray
    shear_speeds: FloatArray
    bulk: FloatArray
    bulk_speeds: FloatArray
    structural: FloatArray
    structural_speeds: FloatArray


class Plate(NamedTuple):
    """What is fired: thickness [m], faces, bending, and sheets that are still loose.

    From `opens_at` on [s] the faces are `opened`. Of a plate that `is_half` only the
    upper half is computed, as the lower one is its mirror: its bottom is the middle.
    """

    thickness: float
    is_half: bool
    faces: tuple[float, ...]
    opened: tuple[float, ...]
    opens_at: float
    is_free: bool
    relaxes: bool
    start: float
    fictive_start: float
    sheet: float
    joins: float


class Control(NamedTuple):
    """How finely to step, what to watch."""

    near_k: float
    far_k: float
    band_below_k: float
    band_above_k: float
    heat_k: float
    heat_hot_k: float
    heat_share: float
    fictive_k: float
    restart: float
    most_steps: int
    settle: bool
    settled_k: float
    window_start: float
    window_end: float
    opening: float


DONE, TOO_MANY_STEPS, STEP_TOO_SMALL, NOT_FINITE = 0, 1, 2, 3

# Rows of `peaks`, and their columns.
HEATING, COOLING, WINDOW = 0, 1, 2
PEAK_COLUMNS = 4  # tension [Pa], time [s], height above the lowest node [m], kiln [K]
PEAK_HEIGHT = 2

# Columns of `trace`: see `result.Trace`.
TRACE_COLUMNS = 7

# Rows of `totals`.
(
    STATUS,
    STEPS,
    REFUSED_STEPS,
    HEAT_ENTERED,
    HEAT_STORED,
    HEAT_MOVED,
    FORCE_ERROR,
    MOMENT_ERROR,
    CURVATURE,
    WINDOW_DIFFERENCE,
    COOL_SINCE,
    JOINED_AT,
    SETTLED_AT,
    END_BOTTOM,
    END_MIDDLE,
    END_TOP,
    STILL_LOOSE,
    TOTALS,
) = range(18)

LEAST_STRESS_PA = 1.0  # below it, balance is rounding alone
NO_RESTART_K = 0.02
# The slab's mean temperature has turned when it has come back by this much.
TURN_K = 0.05
MOST_GROWTH = 2.0
LEAST_SHRINK = 0.2
SAFETY = 0.9
WORST_ACCEPTED = 1.2
SMALLEST_SHARE = 1e-18  # of d²/kappa
JUMP_SHARE = 1e-6  # of d²/kappa


@kernel
def _watch(
    kind: int,
    now: float,
    kiln: float,
    cell: float,
    tension: FloatArray,
    peaks: FloatArray,
) -> None:
    """Keep the largest tension of a kind, with when and where it was."""
    for i in range(tension.shape[0]):
        if tension[i] > peaks[kind, 0]:
            peaks[kind, 0] = tension[i]
            peaks[kind, 1] = now
            peaks[kind, 2] = cell * i
            peaks[kind, 3] = kiln


@kernel
def _stage(stage: int, entered: float, turn: float, marks: FloatArray) -> int:
    """Return whether the slab is heating or cooling after a step.

    `marks` holds the heat taken up so far, its lowest and its highest since the last
    turn. Small swings, as of a hold, are no turn.
    """
    marks[0] += entered
    marks[1], marks[2] = min(marks[1], marks[0]), max(marks[2], marks[0])
    if stage < 0 and entered != 0:
        return HEATING if entered > 0 else COOLING
    if stage != HEATING and marks[0] - marks[1] > turn:
        marks[2] = marks[0]
        return HEATING
    if stage != COOLING and marks[2] - marks[0] > turn:
        marks[1] = marks[0]
        return COOLING
    return stage


@kernel
def _record(
    slot: int,
    now: float,
    kiln: float,
    t: FloatArray,
    fictive: FloatArray,
    tension: FloatArray,
    bottom: int,
    middle: int,
    trace: FloatArray,
) -> None:
    """Put a step into its slot of the trace; the slot keeps its largest tension."""
    last = t.shape[0] - 1
    largest = 0.0
    for i in range(last + 1):
        largest = max(largest, tension[i])
    row = trace[slot]
    row[0], row[1] = now, kiln
    row[2], row[3], row[4] = t[bottom], t[middle], t[last]
    row[5] = largest if np.isnan(row[5]) else max(row[5], largest)
    row[6] = fictive[middle]


@kernel
def _bends(
    values: FloatArray,
    cell: float,
    i: int,
    is_half: bool,  # noqa: FBT001 (compiled code takes it by position)
) -> float:
    """Return the second derivative at a node; at a face, that of its neighbour."""
    if is_half and i == 0:
        mirrored: float = 2 * (values[1] - values[0]) / (cell * cell)
        return mirrored
    at = min(max(i, 1), values.shape[0] - 2)
    bend: float = (values[at - 1] - 2 * values[at] + values[at + 1]) / (cell * cell)
    return bend


@kernel
def _strain_step(
    material: Material,
    plate: Plate,
    loose: bool,  # noqa: FBT001 (compiled code takes it by position)
    cell: float,
    t: FloatArray,
    t_new: FloatArray,
    fictive: FloatArray,
    fictive_new: FloatArray,
    reduced: FloatArray,
    deviators: FloatArray,
    means: FloatArray,
    plateaus: FloatArray,
    shares: FloatArray,
    held: FloatArray,
    columns: FloatArray,
    sigma: FloatArray,
) -> float:
    """Advance the stress of all nodes by one step; return the change of curvature.

    In a loose stack `sigma` is that at the middle of the sheet at each node. A sheet
    free to bend in a temperature T'' s²/2 (s from its middle) strains its middle by
    alpha T'' b²/24 against the parabola, and its faces by minus twice that.
    """
    base, slope, thermal = columns[0], columns[1], columns[2]
    height, simpson, strain = columns[3], columns[4], columns[5]
    extra = material.expansion_liquid - material.expansion_glass
    n = t.shape[0]
    relax_stress(
        deviators,
        means,
        plateaus,
        reduced,
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
    for i in range(n):
        base[i], slope[i] = respond(held[i, 0], held[i, 1], held[i, 2], held[i, 3])
        thermal[i] = material.expansion_glass * (t_new[i] - t[i]) + extra * (
            fictive_new[i] - fictive[i]
        )
    stretch, curvature = 0.0, 0.0
    if not loose:
        stretch, curvature = balance(
            base, slope, thermal, height, simpson, plate.is_free
        )
    for i in range(n):
        if loose:
            bend = _bends(thermal, cell, i, plate.is_half)
            strain[i] = bend * plate.sheet * plate.sheet / 24
        else:
            strain[i] = stretch + height[i] * curvature - thermal[i]
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
    return curvature


@kernel
def _stored(material: Material, cell: float, t: FloatArray) -> float:
    """Return the heat content of the slab [J/m²]."""
    total = 0.0
    last = t.shape[0] - 1
    for i in range(last + 1):
        content, _ = heat_content(t[i], material.heat)
        total += material.density * content * (cell if 0 < i < last else 0.5 * cell)
    return total


@kernel
def _diffusion_time(material: Material, plate: Plate, t: float) -> float:
    """Return d²/kappa [s]."""
    _, capacity = heat_content(t, material.heat)
    a0, a1 = material.conductivity
    kappa = (a0 + a1 * (t - KELVIN)) / (material.density * capacity)
    return plate.thickness * plate.thickness / kappa


@kernel
def _changes(
    material: Material, control: Control, t: FloatArray, t_new: FloatArray
) -> tuple[float, float, float]:
    """Return the worst change against its limit, the spread, and the coldest node."""
    worst, low, high = 0.0, t_new[0], t_new[0]
    for i in range(t.shape[0]):
        above = t_new[i] - material.annealing
        is_near = -control.band_below_k < above < control.band_above_k
        limit = control.near_k if is_near else control.far_k
        worst = max(worst, abs(t_new[i] - t[i]) / limit)
        low, high = min(low, t_new[i]), max(high, t_new[i])
    return worst, high - low, low


@kernel
def march_all(
    material: Material,
    plate: Plate,
    control: Control,
    times: FloatArray,
    kilns: FloatArray,
    profile: FloatArray,
    peaks: FloatArray,
    trace: FloatArray,
    totals: FloatArray,
) -> None:
    """March through a firing.

    Parameters
    ----------
    material, plate, control
        Numbers, see their classes.
    times, kilns : ndarray, shape (h,)
        The kiln's history [s, K]; two equal times are a jump.
    profile : ndarray, shape (3, n)
        Written: temperature [K], fictive temperature [K], stress [Pa] at the end.
    peaks : ndarray, shape (3, 4)
        Written, see HEATING and PEAK_COLUMNS.
    trace : ndarray, shape (slots, 7)
        Written when it has slots.
    totals : ndarray, shape (TOTALS,)
        Written, see STATUS and its neighbours.

    Notes
    -----
    A step is taken again, shorter, when heat did not converge, when the estimated
    error of temperature or fictive temperature is above its limit, or a temperature
    changed too much. Steps land on every point of the history, and start small where
    its slope changes.

    References
    ----------
    The modules of each phenomenon.
    """
    t, fictive, sigma = profile[0], profile[1], profile[2]
    n = t.shape[0]
    last = n - 1
    cell = plate.thickness / (2 * last if plate.is_half else last)
    lowest = 0.0 if plate.is_half else -0.5 * plate.thickness
    bottom, middle = (last, 0) if plate.is_half else (0, last // 2)
    m, ms, mb = material.structural.size, material.shear.size, material.bulk.size
    t_new, fictive_new, reduced = np.empty(n), np.empty(n), np.zeros(n)
    into, work = np.zeros(n), np.zeros((10, n))
    warming, slope, shift, shift_new = (
        np.zeros(n),
        np.zeros(n),
        np.zeros(n),
        np.zeros(n),
    )
    parts, new_parts = np.empty((n, m)), np.empty((n, m))
    deviators, means, plateaus = np.zeros((n, ms)), np.zeros((n, mb)), np.zeros(n)
    shares, held, columns = np.ones((n, ms + mb)), np.zeros((n, 4)), np.zeros((6, n))
    tension = np.zeros(n)
    for i in range(n):
        t[i] = plate.start
        fictive[i] = fictive_new[i] = plate.fictive_start
        parts[i, :] = plate.fictive_start
        shift[i] = log_shift(
            plate.start,
            plate.fictive_start,
            material.activation,
            material.x,
            material.reference,
        )
        sigma[i] = 0.0
        columns[3, i] = cell * i + lowest
    simpson_weights(columns[4], cell)
    loose = plate.sheet > 0
    now, stored_first = times[0], _stored(material, cell, t)
    totals[:] = 0.0
    totals[COOL_SINCE] = now if plate.start <= control.opening else np.nan
    totals[JOINED_AT] = np.nan if loose else now
    totals[SETTLED_AT] = np.nan
    curvature, steps, refused, entered_sum, moved_sum = 0.0, 0, 0, 0.0, 0.0
    for kind in range(3):
        peaks[kind, 0], peaks[kind, 1] = 0.0, now
        peaks[kind, 2], peaks[kind, 3] = -lowest, kilns[0]
    slots = trace.shape[0]
    trace[:] = np.nan
    span = times[-1] - times[0]
    points = times.shape[0]
    kiln, kiln_slope, dt = plate.start, np.nan, 0.0
    # A face at kiln temperature jumps there when the slab starts at another one.
    jumps = kilns[0] != plate.start
    kiln = kilns[0]
    point = 0
    settling = False
    faces, is_open = plate.faces, False
    step_before = 1.0
    stage, heat_marks = -1, np.zeros(3)
    _, capacity = heat_content(plate.start, material.heat)
    turn = TURN_K * material.density * capacity * cell * last
    while True:
        if not is_open and now >= plate.opens_at:
            faces, is_open, kiln_slope = plate.opened, True, np.nan
        if jumps:
            # No time passes: faces at kiln temperature move, elastic strain follows.
            before = _stored(material, cell, t)
            t_new[:] = t
            if faces[0] == PRESCRIBED:
                t_new[0] = kiln
            if faces[3] == PRESCRIBED:
                t_new[last] = kiln
            reduced[:] = 0.0
            curvature += _strain_step(
                material,
                plate,
                loose,
                cell,
                t,
                t_new,
                fictive,
                fictive,
                reduced,
                deviators,
                means,
                plateaus,
                shares,
                held,
                columns,
                sigma,
            )
            t[:] = t_new
            for i in range(n):
                shift[i] = log_shift(
                    t[i],
                    fictive[i],
                    material.activation,
                    material.x,
                    material.reference,
                )
            taken_up = _stored(material, cell, t) - before
            entered_sum += taken_up
            moved_sum += abs(taken_up)
            for i in range(n):
                tension[i] = max(sigma[i], -2 * sigma[i]) if loose else sigma[i]
            if not settling:
                stage = _stage(stage, taken_up, turn, heat_marks)
                _watch(
                    stage,
                    now,
                    kiln,
                    cell,
                    tension,
                    peaks,
                )
                if control.window_start <= now <= control.window_end:
                    _watch(WINDOW, now, kiln, cell, tension, peaks)
            dt, jumps = 0.0, False
        if point == points - 1 and not settling:
            totals[END_BOTTOM], totals[END_MIDDLE] = t[bottom], t[middle]
            totals[END_TOP] = t[last]
        if point == points - 1:
            if settling or not control.settle:
                break
            settling = True
        diffusion = _diffusion_time(material, plate, t[middle])
        new_slope, ends = 0.0, np.inf
        if not settling:
            ends = times[point + 1]
            if ends - now <= JUMP_SHARE * diffusion:
                # Too quick for any heat to follow.
                jumps = kilns[point + 1] != kiln
                now, kiln = ends, kilns[point + 1]
                point += 1
                continue
            new_slope = (kilns[point + 1] - kiln) / (ends - now)
        if (
            np.isnan(kiln_slope)
            or dt == 0.0
            or (abs(new_slope - kiln_slope) * diffusion > NO_RESTART_K)
        ):
            small = control.restart * diffusion
            dt = small if dt == 0.0 else min(dt, small)
        kiln_slope = new_slope
        fluxes(t, kiln, cell, material.conductivity, faces, into)
        # Time is counted from the point, so that a short step after a long history is
        # not lost in rounding.
        began, begun_kiln, passed = now, kiln, 0.0
        while True:
            left = ends - began - passed
            step, lands = dt, False
            if step >= left:
                step, lands = left, True
            elif step > 0.5 * left:
                step = 0.5 * left
            if not step > SMALLEST_SHARE * diffusion:
                totals[STATUS] = STEP_TOO_SMALL
                return
            if steps + refused >= control.most_steps:
                totals[STATUS] = TOO_MANY_STEPS
                return
            good, error, entered = conduct_step(
                t,
                into,
                warming,
                kiln,
                kiln_slope,
                step,
                cell,
                material.density,
                material.conductivity,
                material.heat,
                faces,
                work,
            )
            if not good:
                dt = 0.25 * step
                refused += 1
                continue
            changed, spread, coldest = _changes(material, control, t, work[0])
            is_hot = coldest > material.annealing + control.band_above_k
            allowed = control.heat_hot_k if is_hot else control.heat_k
            allowed += control.heat_share * spread
            worst = max((error / allowed) ** (1 / 3), changed)
            if worst <= WORST_ACCEPTED:
                off = 0.0
                if plate.relaxes:
                    off = relax_step(
                        t,
                        work[0],
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
                        material.annealing + control.band_above_k,
                        fictive_new,
                        shift_new,
                        new_parts,
                        reduced,
                    )
                worst = max(worst, (off / control.fictive_k) ** 0.5)
            if np.isnan(worst):
                totals[STATUS] = NOT_FINITE
                return
            if worst > WORST_ACCEPTED:
                dt = step * max(LEAST_SHRINK, SAFETY / worst)
                refused += 1
                continue
            step_before = step
            grown = step * min(MOST_GROWTH, SAFETY / max(worst, 1e-3))
            dt = max(grown, dt) if step < dt and worst < SAFETY else grown
            curvature += _strain_step(
                material,
                plate,
                loose,
                cell,
                t,
                work[0],
                fictive,
                fictive_new,
                reduced,
                deviators,
                means,
                plateaus,
                shares,
                held,
                columns,
                sigma,
            )
            steps += 1
            entered_sum += entered
            moved_sum += abs(entered)
            passed += step
            now = ends if lands else began + passed
            kiln = begun_kiln + kiln_slope * passed
            hottest = 0.0
            for i in range(n):
                slope[i] = (fictive_new[i] - fictive[i]) / step
                warming[i] = (work[0, i] - t[i]) / step
                t[i], into[i] = work[0, i], work[1, i]
                hottest = max(hottest, t[i])
                tension[i] = max(sigma[i], -2 * sigma[i]) if loose else sigma[i]
            if plate.relaxes:
                fictive[:] = fictive_new
                shift[:] = shift_new
                parts, new_parts = new_parts, parts
            if hottest > control.opening:
                totals[COOL_SINCE] = np.nan
            elif np.isnan(totals[COOL_SINCE]):
                totals[COOL_SINCE] = now
            size = 0.0
            for i in range(n):
                size = max(size, abs(sigma[i]))
            if not loose and size > LEAST_STRESS_PA:
                force, moment = balance_errors(sigma, columns[3], columns[4])
                totals[FORCE_ERROR] = max(totals[FORCE_ERROR], force)
                if plate.is_free:
                    totals[MOMENT_ERROR] = max(totals[MOMENT_ERROR], moment)
            if settling:
                uneven = 0.0
                for i in range(n):
                    uneven = max(uneven, abs(t[i] - kiln))
                if uneven < control.settled_k:
                    totals[SETTLED_AT] = now
                    break
                continue
            stage = _stage(stage, entered, turn, heat_marks)
            _watch(stage, now, kiln, cell, tension, peaks)
            if control.window_start <= now <= control.window_end:
                _watch(WINDOW, now, kiln, cell, tension, peaks)
                totals[WINDOW_DIFFERENCE] = max(totals[WINDOW_DIFFERENCE], spread)
            if slots > 0:
                slot = min(int((now - times[0]) / span * slots), slots - 1)
                _record(slot, now, kiln, t, fictive, tension, bottom, middle, trace)
            if loose and coldest >= plate.joins:
                # One slab from here on; sheets this soft carry no stress into it.
                loose = False
                totals[JOINED_AT] = now
                deviators[:] = 0.0
                means[:] = 0.0
                plateaus[:] = 0.0
                sigma[:] = 0.0
                curvature = 0.0
            if lands:
                point += 1
                kiln = kilns[point]
                break
    totals[STATUS] = DONE
    totals[STEPS], totals[REFUSED_STEPS] = steps, refused
    totals[HEAT_ENTERED], totals[HEAT_MOVED] = entered_sum, moved_sum
    totals[HEAT_STORED] = _stored(material, cell, t) - stored_first
    totals[CURVATURE] = curvature
    totals[STILL_LOOSE] = 1.0 if loose else 0.0


def _build(mark: int) -> Callable[..., None]:
    """Compile the entry for this state of the code; see `compiled.fingerprint`."""

    @entry
    def march(
        material: Material,
        plate: Plate,
        control: Control,
        times: FloatArray,
        kilns: FloatArray,
        profile: FloatArray,
        peaks: FloatArray,
        trace: FloatArray,
        totals: FloatArray,
    ) -> None:
        if mark >= 0:
            march_all(
                material, plate, control, times, kilns, profile, peaks, trace, totals
            )

    return march


march = _build(
    compiled.fingerprint(conduction, relaxation, stress, sys.modules[__name__])
)
