"""Heat through the thickness of a slab: one step in time, compiled.

Finite volumes with a node on each face, conductivity and specific heat that depend on
temperature, and an implicit step with its own error estimate. What surrounds the slab
is in `surroundings`; relaxation and stress are not here.
"""

import math

import numpy as np
from numpy.typing import NDArray

from firing.physics.slab.compiled import kernel
from firing.physics.slab.surroundings import STEFAN_BOLTZMANN

FloatArray = NDArray[np.float64]

KELVIN = 273.15
# Kinds of face; floats, so that a tuple of numbers describes both faces.
FILM, PRESCRIBED = 0.0, 1.0

# TR-BDF2 as a diagonally implicit method of three stages (Hosea & Shampine 1996, from
# memory): second order, L-stable, with an estimate of third order.
TR_SHARE = 2 - math.sqrt(2)
DIAGONAL = TR_SHARE / 2
OUTER = math.sqrt(2) / 4
ERROR_1 = OUTER - (1 - OUTER) / 3
ERROR_2 = OUTER - (3 * OUTER + 1) / 3
ERROR_3 = DIAGONAL - DIAGONAL / 3

# Newton's next error is about a thousandth of the square of its last change, so this
# leaves 1e-9 K.
LAST_CHANGE_K = 1e-3
MOST_ITERATIONS = 25


@kernel
def heat_content(t: float, heat: tuple[float, ...]) -> tuple[float, float]:
    """Return heat content [J/kg] and specific heat [J/(kg K)] at t [K].

    Parameters
    ----------
    t : float
        Temperature, above 0 [K].
    heat : tuple of 9 floats
        `HeatCapacity.numbers`.

    References
    ----------
    See `heat_capacity`.
    """
    c0, c1, c2, c3, c4, low, high, at_low, at_high = heat
    if t >= high:
        return at_high + t * (c3 + 0.5 * c4 * t), c3 + c4 * t
    inverse = 1.0 / t
    content = t * (c0 + 0.5 * c1 * t) - c2 * inverse
    capacity = c0 + c1 * t + c2 * inverse * inverse
    if t > low:
        a, b = c3 - c0, c4 - c1
        width = high - low
        content += (
            a * (t * t / 2 - low * t)
            + b * (t**3 / 3 - low * t * t / 2)
            - c2 * (math.log(t) + low * inverse)
        ) / width - at_low
        capacity += (t - low) / width * (a + b * t - c2 * inverse * inverse)
    return content, capacity


@kernel
def face_flux(t_face: float, t_kiln: float, film: float, emissivity: float) -> float:
    """Return the heat that enters a face [W/m²].

    Parameters
    ----------
    t_face, t_kiln : float
        Temperatures [K].
    film : float
        Coefficient of convection h [W/(m² K)], 0 or more.
    emissivity : float
        eps, 0 to 1.

    Notes
    -----
    h (T_kiln - T) + eps s (T_kiln⁴ - T⁴).

    References
    ----------
    Newton's and Stefan-Boltzmann's laws.
    """
    return film * (t_kiln - t_face) + emissivity * STEFAN_BOLTZMANN * (
        t_kiln**4 - t_face**4
    )


@kernel
def fluxes(
    t: FloatArray,
    t_kiln: float,
    cell_m: float,
    conductivity: tuple[float, float],
    faces: tuple[float, ...],
    into: FloatArray,
) -> None:
    """Write the net heat that enters each node's volume [W/m²].

    Parameters
    ----------
    t : ndarray, shape (n,)
        Temperatures, bottom first [K].
    t_kiln : float
        Kiln temperature [K].
    cell_m : float
        Distance of the nodes [m].
    conductivity : tuple of two floats
        a0, a1: k = a0 + a1 T[°C].
    faces : tuple
        Bottom then top: kind, h [W/(m² K)], emissivity.
    into : ndarray, shape (n,)
        Written. A prescribed face gets only what conduction brings.

    Notes
    -----
    Between two nodes the integral of k dT is exact for a conductivity that is linear
    in temperature: its value at the mean temperature times the difference.

    References
    ----------
    Fourier's law; finite volumes as in any text on numerical heat transfer (from
    memory).
    """
    a0, a1 = conductivity
    last = t.shape[0] - 1
    before = 0.0
    if faces[0] == FILM:
        before = face_flux(t[0], t_kiln, faces[1], faces[2])
    for i in range(last):
        mean_c = 0.5 * (t[i] + t[i + 1]) - KELVIN
        upwards = (a0 + a1 * mean_c) * (t[i] - t[i + 1]) / cell_m
        into[i] = before - upwards
        before = upwards
    into[last] = before
    if faces[3] == FILM:
        into[last] += face_flux(t[last], t_kiln, faces[4], faces[5])


@kernel
def jacobian(
    t: FloatArray,
    weight_s: float,
    cell_m: float,
    density: float,
    conductivity: tuple[float, float],
    heat: tuple[float, ...],
    faces: tuple[float, ...],
    bands: FloatArray,
) -> None:
    """Write the tridiagonal matrix of rho V cp - weight dF/dT, factored.

    Parameters
    ----------
    t, cell_m, conductivity, heat, faces
        As for `fluxes` and `heat_content`.
    weight_s : float
        The step times the method's diagonal [s].
    density : float
        rho [kg/m³].
    bands : ndarray, shape (4, n)
        Written: multipliers, inverted pivots, upper band; and the heat content of each
        node's volume [J/m²], which comes with its specific heat.

    References
    ----------
    The Thomas algorithm; the matrix is diagonally dominant.
    """
    a0, a1 = conductivity
    last = t.shape[0] - 1
    share = weight_s / cell_m
    below, here = 0.0, (a0 + a1 * (t[0] - KELVIN)) * share
    for i in range(last + 1):
        above = (a0 + a1 * (t[i + 1] - KELVIN)) * share if i < last else 0.0
        content, capacity = heat_content(t[i], heat)
        if 0 < i < last:
            held = density * cell_m
            diagonal = held * capacity + 2 * here
        else:
            held = 0.5 * density * cell_m
            side = 0 if i == 0 else 3
            loss = (
                faces[side + 1] + 4.0 * faces[side + 2] * STEFAN_BOLTZMANN * t[i] ** 3
            )
            diagonal = held * capacity + here + weight_s * loss
        bands[3, i] = held * content
        lower, upper = -below, -above
        if (i == 0 and faces[0] == PRESCRIBED) or (
            i == last and faces[3] == PRESCRIBED
        ):
            diagonal, lower, upper = 1.0, 0.0, 0.0
        if i > 0:
            lower *= bands[1, i - 1]
            diagonal -= lower * bands[2, i - 1]
        bands[0, i] = lower
        bands[1, i] = 1.0 / diagonal
        bands[2, i] = upper
        below, here = here, above


@kernel
def solve_factored(bands: FloatArray, right: FloatArray) -> None:
    """Solve in place with what `jacobian` wrote.

    Parameters
    ----------
    bands : ndarray, shape (4, n)
        Factored matrix, see `jacobian`.
    right : ndarray, shape (n,)
        Right side, then the solution.

    References
    ----------
    The Thomas algorithm.
    """
    last = right.shape[0] - 1
    for i in range(1, last + 1):
        right[i] -= bands[0, i] * right[i - 1]
    right[last] *= bands[1, last]
    for i in range(last - 1, -1, -1):
        right[i] = (right[i] - bands[2, i] * right[i + 1]) * bands[1, i]


@kernel
def solve_stage(
    t: FloatArray,
    t_kiln: float,
    weight_s: float,
    known: FloatArray,
    cell_m: float,
    density: float,
    conductivity: tuple[float, float],
    heat: tuple[float, ...],
    faces: tuple[float, ...],
    into: FloatArray,
    bands: FloatArray,
    change: FloatArray,
) -> bool:
    """Solve rho V h(T) = known + weight F(T) by Newton's method.

    Parameters
    ----------
    t : ndarray, shape (n,)
        First guess [K], then the solution.
    t_kiln, cell_m, density, conductivity, heat, faces
        As for `fluxes` and `jacobian`.
    weight_s : float
        The step times the method's diagonal [s].
    known : ndarray, shape (n,)
        Heat content from the stages before [J/m²].
    into : ndarray, shape (n,)
        Written: F at the solution, from the equation itself, so that heat is
        conserved as far as Newton's method went [W/m²].
    bands, change : ndarray
        Work space; `bands` keeps the last factored matrix.

    Returns
    -------
    bool
        Whether it converged.

    References
    ----------
    Newton's method.
    """
    last = t.shape[0] - 1
    if faces[0] == PRESCRIBED:
        t[0] = t_kiln
    if faces[3] == PRESCRIBED:
        t[last] = t_kiln
    for _ in range(MOST_ITERATIONS):
        fluxes(t, t_kiln, cell_m, conductivity, faces, into)
        jacobian(t, weight_s, cell_m, density, conductivity, heat, faces, bands)
        for i in range(last + 1):
            change[i] = known[i] + weight_s * into[i] - bands[3, i]
        if faces[0] == PRESCRIBED:
            change[0] = 0.0
        if faces[3] == PRESCRIBED:
            change[last] = 0.0
        solve_factored(bands, change)
        largest = 0.0
        for i in range(last + 1):
            # A first guess far off must not take a temperature below zero kelvin.
            step = min(max(change[i], -0.5 * t[i]), t[i])
            t[i] += step
            largest = max(largest, abs(step))
        if not largest < 1e9:
            return False
        if largest < LAST_CHANGE_K:
            fluxes(t, t_kiln, cell_m, conductivity, faces, into)
            return True
    return False


@kernel
def conduct_step(
    t: FloatArray,
    into: FloatArray,
    warming: FloatArray,
    t_kiln: float,
    kiln_slope: float,
    step_s: float,
    cell_m: float,
    density: float,
    conductivity: tuple[float, float],
    heat: tuple[float, ...],
    faces: tuple[float, ...],
    work: FloatArray,
) -> tuple[bool, float, float]:
    """Take one implicit step of heat conduction.

    Parameters
    ----------
    t : ndarray, shape (n,)
        Temperatures at the start [K]; not changed.
    into : ndarray, shape (n,)
        `fluxes` at the start [W/m²]; not changed.
    warming : ndarray, shape (n,)
        How temperatures went in the step before [K/s]; only a first guess.
    t_kiln, kiln_slope : float
        Kiln at the start [K], and how it goes on [K/s].
    step_s : float
        Length of the step, above 0 [s].
    cell_m, density, conductivity, heat, faces
        As for `fluxes` and `jacobian`.
    work : ndarray, shape (10, n)
        Rows 0 and 1: temperatures [K] and fluxes [W/m²] at the end. The rest is work
        space.

    Returns
    -------
    tuple
        Whether it converged, the estimated error of the step [K], and the heat that
        entered through both faces [J/m²].

    Notes
    -----
    rho cp(T) dT/dt = d/dz(k(T) dT/dz). TR-BDF2, written for the heat content h so that
    energy is conserved: rho V h2 = rho V h1 + d dt (F1 + F2), then
    rho V h3 = rho V h1 + dt (w F1 + w F2 + d F3) with d = 1 - 1/sqrt 2 and
    w = sqrt 2/4. The error is dt times the difference to the embedded method of third
    order, passed through the last matrix so that stiff parts do not inflate it.

    References
    ----------
    Bank et al. 1985; Hosea & Shampine 1996 (both from memory).
    """
    last = t.shape[0] - 1
    end, into_end, into_mid, known = work[0], work[1], work[2], work[3]
    change, start = work[4], work[5]
    bands = work[6:10]
    mid_kiln = t_kiln + kiln_slope * TR_SHARE * step_s
    end_kiln = t_kiln + kiln_slope * step_s
    weight = DIAGONAL * step_s
    for i in range(last + 1):
        volume = cell_m if 0 < i < last else 0.5 * cell_m
        content, _ = heat_content(t[i], heat)
        start[i] = density * volume * content
        known[i] = start[i] + weight * into[i]
        end[i] = t[i] + warming[i] * TR_SHARE * step_s
    if not solve_stage(
        end,
        mid_kiln,
        weight,
        known,
        cell_m,
        density,
        conductivity,
        heat,
        faces,
        into_mid,
        bands,
        change,
    ):
        return False, 0.0, 0.0
    mid_bottom, mid_top = end[0], end[last]
    for i in range(last + 1):
        known[i] = start[i] + step_s * OUTER * (into[i] + into_mid[i])
        # The first guess goes on as the first part of the step went.
        end[i] += (end[i] - t[i]) * (1 - TR_SHARE) / TR_SHARE
    if not solve_stage(
        end,
        end_kiln,
        weight,
        known,
        cell_m,
        density,
        conductivity,
        heat,
        faces,
        into_end,
        bands,
        change,
    ):
        return False, 0.0, 0.0
    entered = 0.0
    for i in range(last + 1):
        change[i] = step_s * (
            ERROR_1 * into[i] + ERROR_2 * into_mid[i] + ERROR_3 * into_end[i]
        )
    for side in range(2):
        i = side * last
        kind, film, emissivity = (
            faces[3 * side],
            faces[3 * side + 1],
            faces[3 * side + 2],
        )
        if kind == PRESCRIBED:
            # What the face itself takes up comes from outside as well.
            content, _ = heat_content(end[i], heat)
            entered += (
                density * 0.5 * cell_m * content - known[i] - weight * into_end[i]
            )
            change[i] = 0.0
        else:
            middle = mid_top if side else mid_bottom
            entered += step_s * (
                OUTER * face_flux(t[i], t_kiln, film, emissivity)
                + OUTER * face_flux(middle, mid_kiln, film, emissivity)
                + DIAGONAL * face_flux(end[i], end_kiln, film, emissivity)
            )
    solve_factored(bands, change)
    error = 0.0
    for i in range(last + 1):
        error = max(error, abs(change[i]))
    return True, error, entered
