"""The equations of `stiff_solver`, as fast as a library's stiff solver does them.

What the engine's speed is measured against. The method of lines is the same, compiled
by numba, and LSODA integrates it (ODEPACK's, by scipy's `odeint`, whose steps are
compiled too). Heat knows nothing of stress, so each straight piece of the history is
integrated twice: temperatures and fictive temperatures, then the stresses, which are
linear given those. The Jacobians have no band, as the nodes are Chebyshev's, but five
to nine nodes are enough.

With the same compiled functions and error, `solve_ivp` took longer: two to three times by
LSODA, some eight by BDF, ten and more by Radau. So did `odeint` with heat and stress in
one: two to three times.
"""

import numpy as np
from numba import njit
from scipy.integrate import odeint
from scipy.interpolate import CubicSpline

from tests.firing.physics.stiff_solver import KELVIN, SIGMA, StiffResult, StiffSlab

compiled = njit(cache=True, error_model="numpy", fastmath={"contract", "arcp"})

# What relaxes within a fiftieth of a second is at rest either way; left as fast as it
# is, its rounding errors alone would stop LSODA [1/s].
FASTEST = 50.0
PROBE_K = 1e-4
# Absolute tolerances per relative one: 1e-4 K and 10 Pa go with 1e-6.
KELVINS, PASCALS = 100.0, 1e7


@compiled
def heat_rates(y, now, run, g, faces, d1, spectra):
    """Return d/dt of temperatures and partial fictive temperatures [K/s]."""
    n, parts = d1.shape[0], spectra.shape[2]
    kiln = run[1] + run[2] * (now - run[0])
    out, flux = np.empty(y.size), np.empty(n)
    for i in range(n):
        gradient = 0.0
        for j in range(n):
            gradient += d1[i, j] * y[j]
        flux[i] = -(g[0] + g[1] * (y[i] - KELVIN)) * gradient
    for side in range(2):
        i, (_, film, emissivity) = side * (n - 1), faces[side]
        if faces[side, 0] == 0:
            entering = film * (kiln - y[i]) + emissivity * SIGMA * (kiln**4 - y[i] ** 4)
            flux[i] = (1 - 2 * side) * entering
    for i in range(n):
        t, leaving = y[i], 0.0
        for j in range(n):
            leaving += d1[i, j] * flux[j]
        low, high = g[2] + g[3] * t + g[4] / t**2, g[5] + g[6] * t
        share = 1.0 if t >= g[8] else max(t - g[7], 0.0) / max(g[8] - g[7], 1e-9)
        out[i] = -leaving / (g[9] * (low + share * (high - low)))
        if (i == 0 and faces[0, 0]) or (i == n - 1 and faces[1, 0]):
            out[i] = run[2]
        fictive = 0.0
        for k in range(parts):
            fictive += spectra[0, 0, k] * y[(k + 1) * n + i]
        speed = np.exp(g[10] * (g[12] - g[11] / t - (1 - g[11]) / fictive))
        for k in range(parts):
            at = (k + 1) * n + i
            out[at] = (t - y[at]) * min(speed * spectra[0, 1, k], FASTEST)
    return out


@compiled
def heat_jacobian(y, now, run, g, faces, d1, spectra):
    """Return one row of d(heat_rates)/dy per variable; nodes relax on their own."""
    n, out = d1.shape[0], np.zeros((y.size, y.size))
    base = heat_rates(y, now, run, g, faces, d1, spectra)
    for j in range(n):
        probe = y.copy()
        probe[j] += PROBE_K
        out[j] = (heat_rates(probe, now, run, g, faces, d1, spectra) - base) / PROBE_K
    for k in range(n, y.size, n):
        probe = y.copy()
        probe[k : k + n] += PROBE_K
        change = (heat_rates(probe, now, run, g, faces, d1, spectra) - base) / PROBE_K
        for i in range(n):
            for other in range(n, y.size, n):
                out[k + i, other + i] = change[other + i]
    return out


@compiled
def between(now, times, cubics, spectra):
    """Return thermal straining [1/s] and speeds of relaxation [1/s], off the cubics."""
    share = np.sqrt(max(now - times[0], 0.0) / (times[-1] - times[0]))
    p = min(int(share * (times.size - 1)), times.size - 2)
    u = now - times[p]
    n, parts = cubics.shape[2] // 2, spectra.shape[2]
    thermal, speeds = np.empty(n), np.empty((2, parts, n))
    for i in range(n):
        a, b, c, _ = cubics[:, p, i]
        thermal[i] = (3 * a * u + 2 * b) * u + c
        a, b, c, d = cubics[:, p, n + i]
        phi = np.exp(((a * u + b) * u + c) * u + d)
        for k in range(parts):
            speeds[0, k, i] = min(phi * spectra[1, 1, k], FASTEST)
            speeds[1, k, i] = min(phi * spectra[2, 1, k], FASTEST)
    return thermal, speeds


@compiled
def relaxing(y, thermal, speeds, g, plate, spectra, out):
    """Write d/dt of the partial stresses [Pa/s]; see `StiffSlab.derivative`."""
    n, parts = thermal.size, spectra.shape[2]
    shear, bulk, plateau = g[13], g[14], g[15]
    stiff = 4 * shear + 3 * bulk
    slope = 18 * shear * bulk / stiff
    freed, force, moment = np.empty(n), 0.0, 0.0
    for i in range(n):
        lost_s = lost_m = 0.0
        for k in range(parts):
            lost_s += y[k * n + i] * speeds[0, k, i]
            lost_m += y[(parts + k) * n + i] * speeds[1, k, i]
        freed[i] = (2 * lost_s - lost_m) / stiff
        pull = slope * thermal[i] - 3 * (2 * shear * freed[i] - lost_s)
        force += plate[0, i] * pull
        moment += plate[0, i] * plate[1, i] * pull
    for i in range(n):
        # Chebyshev's nodes lie evenly about the middle: stretch and bending are apart.
        strain = (force * plate[2, 0] + moment * plate[1, i] * plate[2, 1]) / slope
        strain -= thermal[i]
        deviation = 3 * bulk * strain / stiff + freed[i]
        volume = 3 * bulk * (strain - deviation)
        for k in range(parts):
            s, m = k * n + i, (parts + k) * n + i
            out[s] = 2 * shear * deviation * spectra[1, 0, k] - y[s] * speeds[0, k, i]
            out[m] = (1 - plateau) * volume * spectra[2, 0, k] - y[m] * speeds[1, k, i]
        out[2 * parts * n + i] = plateau * volume


@compiled
def stress_rates(y, now, times, cubics, g, plate, spectra):
    """Return d/dt of the partial stresses [Pa/s]."""
    out = np.empty(y.size)
    thermal, speeds = between(now, times, cubics, spectra)
    relaxing(y, thermal, speeds, g, plate, spectra, out)
    return out


@compiled
def stress_jacobian(y, now, times, cubics, g, plate, spectra):
    """Return one row of d(stress_rates)/dy per variable, exactly: they are linear."""
    out, unit = np.empty((y.size, y.size)), np.zeros(y.size)
    thermal, speeds = between(now, times, cubics, spectra)
    for j in range(y.size):
        unit[j] = 1.0
        relaxing(unit, 0 * thermal, speeds, g, plate, spectra, out[j])
        unit[j] = 0.0
    return out


class CompiledSlab(StiffSlab):
    """A `StiffSlab` that LSODA marches.

    Its glass relaxes, and its three spectra have as many times each.
    """

    def numbers(self):
        """Return what the compiled functions need to know."""
        glass, heat, firing = self.glass, self.glass.heat_capacity, self.firing
        low_k = heat.blend_centre_k - heat.blend_half_width_k
        g = np.array(
            [
                *glass.conductivity_w_mk,
                *heat.below,
                *heat.above,
                low_k,
                low_k + 2 * heat.blend_half_width_k,
                glass.density_kg_m3,
                glass.activation_k,
                glass.nonlinearity_x,
                1 / glass.reference_temperature_k,
                glass.shear_modulus_pa,
                glass.bulk_modulus_pa,
                glass.bulk_plateau,
            ]
        )
        sides = (firing.boundary.bottom, firing.boundary.top)
        faces = np.array(
            [(s.is_at_kiln_temperature, s.film_w_m2k, s.emissivity) for s in sides],
            dtype=float,
        )
        q, z = self.quadrature, self.height
        plate = np.array([q, z, 0 * q])
        plate[2, :2] = 1 / q.sum(), (firing.bending.value == "free") / (q @ z**2)
        spectra = np.array([self.structural.T, self.shear.T, self.bulk.T])
        spectra[:, 1] = 1 / spectra[:, 1]
        return g, faces, plate, spectra

    def solve(self, *, rtol=1e-6, points=40):
        g, faces, plate, spectra = self.numbers()
        window = self.firing.window_s or (-np.inf, np.inf)
        start, fictive = self.start_k()
        heat = np.repeat([start, fictive], [self.n, self.sizes[1] * self.n])
        stress = np.zeros(sum(self.sizes[2:]) * self.n)
        peak_window = peak_heating = 0.0
        evaluations = 0
        for start_s, end_s, from_c, to_c in self.spans():
            slope = (to_c - from_c) / (end_s - start_s)
            settling = start_s == self.firing.time_s[-1]
            if settling:
                end_middle_c = float(heat[self.n // 2]) - KELVIN
            # Close together where the slope has just changed.
            times = start_s + (end_s - start_s) * np.linspace(0, 1, points) ** 2
            run = np.array([start_s, from_c + KELVIN, slope])
            known = (run, g, faces, self.d1, spectra)
            states, did = marched(
                heat_rates, heat_jacobian, heat, times, known, rtol, KELVINS
            )
            cubics = CubicSpline(times, self.strains_and_shifts(states)).c
            known = (times, cubics, g, plate, spectra)
            stresses, more = marched(
                stress_rates, stress_jacobian, stress, times, known, rtol, PASCALS
            )
            heat, stress = states[-1], stresses[-1]
            evaluations += did + more
            if settling:
                break
            tension = self.tension(stresses).max(axis=1)
            inside = (times >= window[0] - 1e-6) & (times <= window[1] + 1e-6)
            peak_window = max(peak_window, tension[inside].max(initial=0))
            if slope > 0:
                peak_heating = max(peak_heating, tension.max())
        last = self.tension(stress[None])[0]
        return StiffResult(
            residual_mid_pa=float(last[self.n // 2]),
            residual_top_pa=float(last[-1]),
            residual_bottom_pa=float(last[0]),
            peak_window_pa=float(peak_window),
            peak_heating_pa=float(peak_heating),
            end_middle_c=end_middle_c,
            evaluations=evaluations,
        )

    def strains_and_shifts(self, states):
        """Return thermal strain and ln phi at each node, side by side, per row."""
        glass, n = self.glass, self.n
        t = states[:, :n]
        parts = states[:, n:].reshape(len(states), -1, n)
        fictive = np.einsum("k,pki->pi", self.structural[:, 0], parts)
        extra = glass.expansion_liquid_per_k - glass.expansion_glass_per_k
        strain = glass.expansion_glass_per_k * t + extra * fictive
        return np.hstack([strain, self.shift(t, fictive)])

    def tension(self, stresses):
        """Return the stress at each node, per row [Pa]."""
        count = len(self.shear)
        shears = stresses[:, : count * self.n]
        return 3 * shears.reshape(len(stresses), count, self.n).sum(axis=1)


def marched(rates, jacobian, y, times, known, rtol, scale):
    """Return LSODA's solution at these times, and how often it asked for a rate."""
    states, told = odeint(
        rates,
        y,
        times,
        args=known,
        Dfun=jacobian,
        col_deriv=True,
        full_output=True,
        rtol=rtol,
        atol=rtol * scale,
        tcrit=times[-1:],
        mxstep=20_000,
    )
    assert told["message"] == "Integration successful.", told["message"]
    return states, int(told["nfe"][-1])
