"""What a slab went through in a firing, as computed.

Read from the march's arrays, and nothing more; `judging` says what it means.
"""

import math
from dataclasses import dataclass, field

import numpy as np

from firing.physics.glass.properties import KELVIN
from firing.physics.schedule import FloatArray
from firing.physics.slab.input import SlabFiring

# Retardation [nm/cm] of 1 MPa and 1 brewster: 1e6 Pa x 1e-12 1/Pa x 1e-2 m.
NM_PER_CM = 10.0


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
    """Whether the computation's own balance is right.

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


def read_result(
    firing: SlabFiring,
    profile: FloatArray,
    peaks: FloatArray,
    trace: FloatArray,
    totals: FloatArray,
) -> FiringResult:
    """Return the march's arrays in the workshop's words.

    Parameters
    ----------
    firing : SlabFiring
        What was computed.
    profile, peaks, trace, totals : ndarray
        As `march.march_all` wrote them; a trace of no rows is none.

    References
    ----------
    None: units and names.
    """
    # Only code that computes loads the compiled engine, not whoever imports a name.
    from firing.physics.slab import march

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
