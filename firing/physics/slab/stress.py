"""Stress in a plate that relaxes: one step through the thickness, compiled.

The exact reduction of the three-dimensional law to equal stress in both directions of
the plate and none across it. Corners, edges and bubbles are not in it.
"""

import numpy as np
from numpy.typing import NDArray

from firing.physics.slab.compiled import kernel
from firing.physics.slab.relaxation import decay_rates

FloatArray = NDArray[np.float64]


@kernel
def relax_stress(
    deviators: FloatArray,
    means: FloatArray,
    plateaus: FloatArray,
    reduced: FloatArray,
    shear: FloatArray,
    shear_speeds: FloatArray,
    bulk: FloatArray,
    bulk_speeds: FloatArray,
    shear_modulus: float,
    bulk_modulus: float,
    plateau: float,
    shares: FloatArray,
    held: FloatArray,
) -> None:
    """Let the partial stresses of all nodes decay over a step.

    Parameters
    ----------
    deviators, means : ndarray, shape (n, m), (n, p)
        Partial stresses s_i and m_i [Pa]; decayed in place.
    plateaus : ndarray, shape (n,)
        m_inf, the part that never relaxes [Pa].
    reduced : ndarray, shape (n,)
        The step's reduced time [s].
    shear, shear_speeds, bulk, bulk_speeds : ndarray
        Weights w, v and one over the times t, u [1/s] at the reference temperature.
    shear_modulus, bulk_modulus : float
        G, K [Pa].
    plateau : float
        k_inf, above 0 to 1.
    shares : ndarray, shape (n, m + p)
        Written: r(reduced/t_i), then r(reduced/u_i).
    held : ndarray, shape (n, 4)
        Written: hs = sum s_i, hm = sum m_i + m_inf, G', K' [Pa].

    Notes
    -----
    G' = G sum w_i r(y_i), K' = K [k_inf + (1 - k_inf) sum v_i r(y_i)],
    r(y) = (1 - exp(-y))/y.

    References
    ----------
    Derived; the spectra's source is in `families`.
    """
    n, m = deviators.shape
    p = means.shape[1]
    for i in range(n):
        passed = reduced[i]
        held_s, soft_g, held_m, soft_k = 0.0, 0.0, plateaus[i], 0.0
        for j in range(m):
            left, mean = 1.0, 1.0
            if passed > 0:
                left, mean = decay_rates(passed * shear_speeds[j])
            deviators[i, j] *= left
            held_s += deviators[i, j]
            shares[i, j] = mean
            soft_g += shear[j] * mean
        for j in range(p):
            left, mean = 1.0, 1.0
            if passed > 0:
                left, mean = decay_rates(passed * bulk_speeds[j])
            means[i, j] *= left
            held_m += means[i, j]
            shares[i, m + j] = mean
            soft_k += bulk[j] * mean
        held[i, 0], held[i, 1] = held_s, held_m
        held[i, 2] = shear_modulus * soft_g
        held[i, 3] = bulk_modulus * (plateau + (1 - plateau) * soft_k)


@kernel
def respond(
    held_s: float, held_m: float, soft_g: float, soft_k: float
) -> tuple[float, float]:
    """Return the stress without new strain [Pa] and its slope per strain [Pa].

    Parameters
    ----------
    held_s, held_m, soft_g, soft_k : float
        What `relax_stress` returned [Pa].

    Notes
    -----
    sigma = 3 (hs + 2 G' De), De = (hm - 2 hs + 3 K' e)/(4 G' + 3 K'): linear in the
    strain e with the slope 18 G' K'/(4 G' + 3 K'), which is E/(1 - nu) in cold glass.

    References
    ----------
    Derived: no stress across the plate gives hm + 3 K' Dv = 2 (hs + 2 G' De) with
    Dv = e - De.
    """
    stiff = 4 * soft_g + 3 * soft_k
    base = 3 * held_s + 6 * soft_g * (held_m - 2 * held_s) / stiff
    return base, 18 * soft_g * soft_k / stiff


@kernel
def strain_nodes(
    deviators: FloatArray,
    means: FloatArray,
    plateaus: FloatArray,
    strain: FloatArray,
    held: FloatArray,
    shear: FloatArray,
    bulk: FloatArray,
    shear_modulus: float,
    bulk_modulus: float,
    plateau: float,
    shares: FloatArray,
    sigma: FloatArray,
) -> None:
    """Add a step's strain to the partial stresses of all nodes.

    Parameters
    ----------
    deviators, means, plateaus : ndarray
        Partial stresses, decayed, and m_inf [Pa]; changed in place.
    strain : ndarray, shape (n,)
        e, the strain of the step less the thermal one.
    held, shares
        What `relax_stress` wrote.
    shear, bulk, shear_modulus, bulk_modulus, plateau
        As for `relax_stress`.
    sigma : ndarray, shape (n,)
        Written: stress [Pa].

    Notes
    -----
    s_i += 2 G w_i r De; m_i += 3 K (1 - k_inf) v_i r Dv; m_inf += 3 K k_inf Dv;
    sigma = 3 sum s_i.

    References
    ----------
    Derived, see `respond`.
    """
    n, m = deviators.shape
    p = means.shape[1]
    for i in range(n):
        held_s, held_m, soft_g, soft_k = held[i, 0], held[i, 1], held[i, 2], held[i, 3]
        deviation = (held_m - 2 * held_s + 3 * soft_k * strain[i]) / (
            4 * soft_g + 3 * soft_k
        )
        volume = strain[i] - deviation
        total = 0.0
        for j in range(m):
            deviators[i, j] += 2 * shear_modulus * shear[j] * shares[i, j] * deviation
            total += deviators[i, j]
        softening = 3 * bulk_modulus * (1 - plateau) * volume
        for j in range(p):
            means[i, j] += softening * bulk[j] * shares[i, m + j]
        plateaus[i] += 3 * bulk_modulus * plateau * volume
        sigma[i] = 3 * total


@kernel
def balance(
    base: FloatArray,
    slope: FloatArray,
    thermal: FloatArray,
    height: FloatArray,
    simpson: FloatArray,
    is_free: bool,  # noqa: FBT001 (compiled code takes it by position)
) -> tuple[float, float]:
    """Return how the plate as a whole stretches and bends in a step.

    Parameters
    ----------
    base, slope : ndarray, shape (n,)
        What `respond` returned at each node [Pa].
    thermal : ndarray, shape (n,)
        Thermal strain of the step.
    height : ndarray, shape (n,)
        z' from the middle, upwards [m].
    simpson : ndarray, shape (n,)
        Weights of Simpson's rule [m]; the trapezoid rule is biased on a parabola.
    is_free : bool
        Free to bend, or held flat.

    Returns
    -------
    tuple of 2 floats
        Stretch of the mid-plane, and curvature [1/m].

    Notes
    -----
    integral sigma dz = 0 and, when free to bend, integral sigma z' dz = 0, with
    sigma = base + slope (stretch + z' curvature - thermal).

    References
    ----------
    Equilibrium of a plate without outside forces.
    """
    s0 = s1 = s2 = r0 = r1 = 0.0
    for i in range(base.shape[0]):
        stiff = simpson[i] * slope[i]
        pull = simpson[i] * (slope[i] * thermal[i] - base[i])
        s0 += stiff
        s1 += stiff * height[i]
        s2 += stiff * height[i] * height[i]
        r0 += pull
        r1 += pull * height[i]
    if not is_free:
        return r0 / s0, 0.0
    # About the centre of stiffness: without loss of figures when one face is liquid.
    centre = s1 / s0
    spread = 0.0
    turned = 0.0
    for i in range(base.shape[0]):
        arm = height[i] - centre
        stiff = simpson[i] * slope[i]
        spread += stiff * arm * arm
        turned += simpson[i] * (slope[i] * thermal[i] - base[i]) * arm
    curvature = turned / spread
    return r0 / s0 - centre * curvature, curvature


@kernel
def balance_errors(
    sigma: FloatArray, height: FloatArray, simpson: FloatArray
) -> tuple[float, float]:
    """Return by how much force and moment miss zero, as a share of what acts.

    Parameters
    ----------
    sigma, height, simpson : ndarray, shape (n,)
        Stress [Pa], z' [m], Simpson's weights [m].

    Returns
    -------
    tuple of 2 floats
        |integral sigma dz| / integral |sigma| dz, and the same of the moments.

    References
    ----------
    Equilibrium.
    """
    force = moment = sizes = arms = 0.0
    for i in range(sigma.shape[0]):
        share = simpson[i] * sigma[i]
        force += share
        moment += share * height[i]
        sizes += abs(share)
        arms += abs(share * height[i])
    if sizes == 0:
        return 0.0, 0.0
    return abs(force) / sizes, abs(moment) / arms if arms > 0 else 0.0


@kernel
def simpson_weights(weights: FloatArray, cell_m: float) -> None:
    """Write the weights of Simpson's rule for an odd number of nodes.

    Parameters
    ----------
    weights : ndarray, shape (n,)
        Written [m]; n is odd.
    cell_m : float
        Distance of the nodes [m].

    References
    ----------
    Simpson's rule.
    """
    last = weights.shape[0] - 1
    for i in range(last + 1):
        weights[i] = cell_m / 3 * (4.0 if i % 2 else 2.0)
    weights[0] = weights[last] = cell_m / 3
