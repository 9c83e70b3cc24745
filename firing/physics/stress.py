"""Stress in a plate that relaxes: one step through the thickness, compiled.

The exact reduction of the three-dimensional law to equal stress in both directions of
the plate and none across it. Corners, edges and bubbles are not in it.
"""

import numpy as np
from numpy.typing import NDArray

from firing.physics.compiled import kernel
from firing.physics.relaxation import decay

FloatArray = NDArray[np.float64]


@kernel
def relax_stress(
    deviators: FloatArray,
    means: FloatArray,
    mean_plateau: float,
    reduced_s: float,
    shear: FloatArray,
    shear_s: FloatArray,
    bulk: FloatArray,
    bulk_s: FloatArray,
    shear_modulus: float,
    bulk_modulus: float,
    plateau: float,
    shares: FloatArray,
) -> tuple[float, float, float, float]:
    """Let the partial stresses of one place decay over a step.

    Parameters
    ----------
    deviators, means : ndarray, shape (m,), (p,)
        Partial stresses s_i and m_i [Pa]; decayed in place.
    mean_plateau : float
        m_inf, the part that never relaxes [Pa].
    reduced_s : float
        The step's reduced time [s].
    shear, shear_s, bulk, bulk_s : ndarray
        Weights w, v and times t, u [s] at the reference temperature.
    shear_modulus, bulk_modulus : float
        G, K [Pa].
    plateau : float
        k_inf, above 0 to 1.
    shares : ndarray, shape (m + p,)
        Written: r(reduced/t_i), then r(reduced/u_i).

    Returns
    -------
    tuple of 4 floats
        hs = sum s_i, hm = sum m_i + m_inf, G', K' [Pa].

    Notes
    -----
    G' = G sum w_i r(y_i), K' = K [k_inf + (1 - k_inf) sum v_i r(y_i)],
    r(y) = (1 - exp(-y))/y.

    References
    ----------
    Derived; the spectra's source is in `glass`.
    """
    first = deviators.shape[0]
    held_s, soft_g = 0.0, 0.0
    for j in range(first):
        left, mean, _ = decay(reduced_s / shear_s[j])
        deviators[j] *= left
        held_s += deviators[j]
        shares[j] = mean
        soft_g += shear[j] * mean
    held_m, soft_k = mean_plateau, 0.0
    for j in range(means.shape[0]):
        left, mean, _ = decay(reduced_s / bulk_s[j])
        means[j] *= left
        held_m += means[j]
        shares[first + j] = mean
        soft_k += bulk[j] * mean
    return (
        held_s,
        held_m,
        shear_modulus * soft_g,
        bulk_modulus * (plateau + (1 - plateau) * soft_k),
    )


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
def strain_place(
    deviators: FloatArray,
    means: FloatArray,
    mean_plateau: float,
    strain: float,
    held: tuple[float, float, float, float],
    shear: FloatArray,
    bulk: FloatArray,
    shear_modulus: float,
    bulk_modulus: float,
    plateau: float,
    shares: FloatArray,
) -> tuple[float, float]:
    """Add a step's strain to the partial stresses of one place.

    Parameters
    ----------
    deviators, means : ndarray
        Partial stresses, decayed [Pa]; changed in place.
    mean_plateau : float
        m_inf [Pa].
    strain : float
        e, the strain of the step less the thermal one.
    held : tuple of 4 floats
        What `relax_stress` returned [Pa].
    shear, bulk, shear_modulus, bulk_modulus, plateau, shares
        As for `relax_stress`.

    Returns
    -------
    tuple of 2 floats
        sigma and the new m_inf [Pa].

    Notes
    -----
    s_i += 2 G w_i r De; m_i += 3 K (1 - k_inf) v_i r Dv; m_inf += 3 K k_inf Dv;
    sigma = 3 sum s_i.

    References
    ----------
    Derived, see `respond`.
    """
    held_s, held_m, soft_g, soft_k = held
    deviation = (held_m - 2 * held_s + 3 * soft_k * strain) / (4 * soft_g + 3 * soft_k)
    volume = strain - deviation
    first = deviators.shape[0]
    sigma = 0.0
    for j in range(first):
        deviators[j] += 2 * shear_modulus * shear[j] * shares[j] * deviation
        sigma += deviators[j]
    softening = 3 * bulk_modulus * (1 - plateau) * volume
    for j in range(means.shape[0]):
        means[j] += softening * bulk[j] * shares[first + j]
    return 3 * sigma, mean_plateau + 3 * bulk_modulus * plateau * volume


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
