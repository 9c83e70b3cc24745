"""A second solution of the same equations, for the tests and the benchmark only.

Method of lines with scipy's stiff integrators, written from the equations and sharing
nothing with the engine but a glass's numbers: cosine-spaced nodes with Chebyshev
differentiation instead of finite volumes, Clenshaw-Curtis quadrature instead of
Simpson's rule, stress as differential equations of its Maxwell elements instead of
exponential updates. State per node: temperature, partial fictive temperatures, partial
deviatoric and mean stresses, and the mean stress of the plateau.
"""

from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

from firing.physics.slab.surroundings import IN_THE_ROOM

KELVIN = 273.15
SIGMA = 5.670374419e-8


@dataclass(frozen=True)
class StiffResult:
    """Residual stress over the nodes after settling [Pa], peaks, and the work done."""

    residual_mid_pa: float
    residual_top_pa: float
    residual_bottom_pa: float
    peak_window_pa: float
    peak_heating_pa: float
    end_middle_c: float
    evaluations: int


class StiffSlab:
    """One slab; see the module. `boundary` is `surroundings.Boundary`."""

    def __init__(self, firing, nodes=17):
        self.firing, self.glass = firing, firing.glass
        self.boundary = firing.boundary
        glass, n = firing.glass, nodes
        x, self.d1 = chebyshev(n)
        self.height = x * firing.thickness_m / 2
        self.d1 = self.d1 * 2 / firing.thickness_m
        self.quadrature = clenshaw_curtis(n) * firing.thickness_m / 2
        self.structural = np.array(glass.structural_spectrum)
        self.shear = np.array(glass.shear_spectrum)
        self.bulk = np.array(glass.bulk_spectrum)
        self.n = n
        self.sizes = (
            1,
            len(self.structural),
            len(self.shear),
            len(self.bulk),
            1,
        )

    # --- material, straight from the formulas ---

    def heat_capacity(self, t):
        heat = self.glass.heat_capacity
        c0, c1, c2 = heat.below
        c3, c4 = heat.above
        low = c0 + c1 * t + c2 / t**2
        high = c3 + c4 * t
        if heat.blend_half_width_k == 0:
            return np.where(t > heat.blend_centre_k, high, low)
        share = (t - heat.blend_centre_k) / (2 * heat.blend_half_width_k) + 0.5
        return low + np.clip(share, 0, 1) * (high - low)

    def shift(self, t, fictive):
        """Return ln phi."""
        g = self.glass
        return g.activation_k * (
            1 / g.reference_temperature_k
            - g.nonlinearity_x / t
            - (1 - g.nonlinearity_x) / fictive
        )

    def phi(self, t, fictive):
        # A relaxation faster than a millisecond is as good as any: it only has to
        # be over, and the integrator need not resolve it.
        return np.exp(np.minimum(self.shift(t, fictive), 12.0))

    # --- the equations ---

    def split(self, y):
        parts, at = [], 0
        for size in self.sizes:
            parts.append(y[at : at + size * self.n].reshape(size, self.n))
            at += size * self.n
        return parts

    def warming(self, t, kiln_k, kiln_slope):
        """Return dT/dt at every node [K/s]."""
        g = self.glass
        a0, a1 = g.conductivity_w_mk
        k = a0 + a1 * (t - KELVIN)
        flux = -k * (self.d1 @ t)  # upwards
        sides = (
            (0, self.boundary.bottom, 1),
            (-1, self.boundary.top, -1),
        )
        for place, face, sign in sides:
            if not face.is_at_kiln_temperature:
                entering = face.film_w_m2k * (kiln_k - t[place]) + (
                    face.emissivity * SIGMA * (kiln_k**4 - t[place] ** 4)
                )
                flux[place] = sign * entering
        rate = -(self.d1 @ flux) / (g.density_kg_m3 * self.heat_capacity(t))
        for place, face, _ in sides:
            if face.is_at_kiln_temperature:
                rate[place] = kiln_slope
        return rate

    def derivative(self, time_s, y, kiln, kiln_slope):
        g = self.glass
        (t,), fictive, s, m, _ = self.split(y)
        kiln_k = kiln(time_s)
        dt = self.warming(t, kiln_k, kiln_slope)
        weights, taus = self.structural.T
        mean_fictive = weights @ fictive
        phi = self.phi(t, mean_fictive) * (1.0 if self.firing.is_relaxing else 0.0)
        dfictive = phi * (t - fictive) / taus[:, None]
        thermal = g.expansion_glass_per_k * dt + (
            g.expansion_liquid_per_k - g.expansion_glass_per_k
        ) * (weights @ dfictive)

        shear, bulk = g.shear_modulus_pa, g.bulk_modulus_pa
        w, shear_s = self.shear.T
        v, bulk_s = self.bulk.T
        # ds/dt = 2 G dDe/dt - phi s/t_i, likewise the mean; no stress across:
        # sum s_z + m = 0 stays so, which gives dDe/dt from the strain rate.
        lost_s = phi * np.sum(s / shear_s[:, None], axis=0)
        lost_m = phi * np.sum(m / bulk_s[:, None], axis=0)
        slope = 18 * shear * bulk / (4 * shear + 3 * bulk)

        def deviation(strain):
            return (3 * bulk * strain + 2 * lost_s - lost_m) / (4 * shear + 3 * bulk)

        base = 3 * (2 * shear * deviation(np.zeros(self.n)) - lost_s)
        q, z = self.quadrature, self.height
        pull = slope * thermal - base
        if self.firing.bending.value == "free":
            matrix = slope * np.array([[q.sum(), q @ z], [q @ z, q @ z**2]])
            stretch, curvature = np.linalg.solve(matrix, [q @ pull, q @ (pull * z)])
        else:
            stretch, curvature = (q @ pull) / (slope * q.sum()), 0.0
        strain = stretch + z * curvature - thermal
        dev = deviation(strain)
        volume = strain - dev
        ds = 2 * shear * w[:, None] * dev - phi * s / shear_s[:, None]
        part = 1 - g.bulk_plateau
        dm = 3 * bulk * part * v[:, None] * volume - phi * m / bulk_s[:, None]
        dplateau = 3 * bulk * g.bulk_plateau * volume
        return np.concatenate([dt, dfictive.ravel(), ds.ravel(), dm.ravel(), dplateau])

    # --- marching ---

    def start_k(self):
        """Return temperature and fictive temperature at the start [K]."""
        firing = self.firing
        start_c = firing.kiln_c[0] if firing.start_c is None else firing.start_c
        fictive_c = firing.fictive_start_c
        if fictive_c is None:
            fictive_c = max(start_c, self.glass.annealing_point_c - 30)
        return start_c + KELVIN, fictive_c + KELVIN

    def spans(self):
        """Return the straight pieces of the history (s, s, °C, °C), and the settling."""
        firing = self.firing
        ends = zip(
            firing.time_s, firing.time_s[1:], firing.kiln_c, firing.kiln_c[1:],
            strict=False,
        )  # fmt: skip
        spans = [span for span in ends if span[1] > span[0]]
        # Settling: the last temperature until nothing is left of a difference.
        settle_s = 40 * (firing.thickness_m / 2) ** 2 / 4.4e-7 + 2000
        if not firing.boundary.top.is_at_kiln_temperature:
            settle_s += 40 * 2500 * 900 * firing.thickness_m / 10
        if firing.boundary.bottom.is_insulated:
            settle_s *= 4
        last_s, last_c = float(firing.time_s[-1]), float(firing.kiln_c[-1])
        return [*spans, (last_s, last_s + settle_s, last_c, last_c)]

    def solve(self, *, method="BDF", rtol=1e-6, points=300):
        y = np.zeros(sum(self.sizes) * self.n)
        count = self.sizes[1] * self.n
        y[: self.n], y[self.n : self.n + count] = self.start_k()
        scale = np.full(y.size, 1e-5)  # kelvin
        scale[self.n + count :] = 3.0  # pascal
        peak_window = peak_heating = 0.0
        evaluations = 0
        window = self.firing.window_s or (-np.inf, np.inf)
        end_middle_c = float("nan")
        for start_s, end_s, from_c, to_c in self.spans():
            slope = (to_c - from_c) / (end_s - start_s)
            settling = start_s == self.firing.time_s[-1]
            if self.firing.opened_s is not None and start_s >= self.firing.opened_s:
                self.boundary = IN_THE_ROOM

            def kiln(now, start_s=start_s, from_c=from_c, slope=slope):
                return from_c + KELVIN + slope * (now - start_s)

            if settling:
                end_middle_c = float(np.interp(0, self.height, y[: self.n])) - KELVIN
            # scipy widens its probe of a variable that nothing depends on (a stress
            # of frozen glass) until it overflows; that does no harm.
            with np.errstate(over="ignore"):
                solution = solve_ivp(
                    self.derivative,
                    (start_s, end_s),
                    y,
                    method=method,
                    rtol=rtol,
                    atol=scale,
                    args=(kiln, slope),
                    first_step=min(0.1, (end_s - start_s) / 10),
                    t_eval=np.linspace(start_s, end_s, points),
                )
            assert solution.success, solution.message
            evaluations += solution.nfev
            y = solution.y[:, -1]
            if not settling:
                tension = np.array(
                    [self.stress(column).max() for column in solution.y.T]
                )
                inside = (solution.t >= window[0] - 1e-6) & (
                    solution.t <= window[1] + 1e-6
                )
                if np.any(inside):
                    peak_window = max(peak_window, tension[inside].max())
                if slope > 0:
                    peak_heating = max(peak_heating, tension.max())
        stress = self.stress(y)
        return StiffResult(
            residual_mid_pa=float(stress[self.n // 2]),
            residual_top_pa=float(stress[-1]),
            residual_bottom_pa=float(stress[0]),
            peak_window_pa=float(peak_window),
            peak_heating_pa=float(peak_heating),
            end_middle_c=end_middle_c,
            evaluations=evaluations,
        )

    def stress(self, y):
        return 3 * self.split(y)[2].sum(axis=0)


def chebyshev(n):
    """Return nodes -1..1, ascending, and the differentiation matrix on them."""
    k = np.arange(n)
    x = -np.cos(np.pi * k / (n - 1))
    c = np.where((k == 0) | (k == n - 1), 2.0, 1.0) * (-1.0) ** k
    gap = x[:, None] - x[None, :] + np.eye(n)
    d = np.outer(c, 1 / c) / gap
    return x, d - np.diag(d.sum(axis=1))


def clenshaw_curtis(n):
    """Return the weights of the integral over -1..1 at Chebyshev's nodes."""
    theta = np.pi * np.arange(n) / (n - 1)
    degrees = np.arange(0, n, 2)
    moments = 2 / (1 - degrees**2)
    basis = np.cos(np.outer(np.arange(n), theta))
    right = np.zeros(n)
    right[::2] = moments
    return np.linalg.solve(basis, right)
