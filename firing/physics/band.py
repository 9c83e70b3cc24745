"""How sure a firing's stresses are: the same firing over what one cannot know of it.

A bare number would promise more than a plate of one dimension and a data sheet can
keep. What is varied, and by how much, is stated; how a firing is computed is in
`firing_simulation`.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from firing.physics.firing_simulation import (
    COLDEST_C,
    DEFAULT_ACCURACY,
    HOTTEST_C,
    Accuracy,
    Firing,
    FiringResult,
    simulate,
)
from firing.physics.glass import Glass, with_annealing_point
from firing.physics.schedule import FloatArray, PhysicsProblem
from firing.physics.surroundings import Boundary


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainty:
    """What one cannot know exactly; all assumptions of this project.

    Attributes
    ----------
    annealing_point_k : float
        The annealing point is that much higher or lower [K], 0 to 40.
    conductivity_share : float
        The conductivity is that share higher or lower, 0 to 0.5.
    thermocouple_k : float
        The glass's surroundings are that much hotter or colder than read [K], 0 to 40.
    other_boundary : Boundary or None
        How else the faces might see the kiln; None leaves it out.
    """

    annealing_point_k: float = 10.0
    conductivity_share: float = 0.15
    thermocouple_k: float = 5.0
    other_boundary: Boundary | None = None

    def __post_init__(self) -> None:
        if not (
            0 <= self.annealing_point_k <= 40
            and 0 <= self.conductivity_share <= 0.5
            and 0 <= self.thermocouple_k <= 40
        ):
            raise PhysicsProblem(
                "An uncertainty is 0 to 40 K of the annealing point, 0 to 0.5 of the "
                "conductivity and 0 to 40 K of the thermocouple."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A value as it may be: the lowest, the middle and the highest."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelope:
    """The largest tension in the slab over time, over all cases; each of shape (n,).

    Attributes
    ----------
    time_s : ndarray
        The middle case's slots, and each case's own moment of its largest tension [s].
    low_pa, high_pa : ndarray
        Lowest and highest of the cases at that moment [Pa].
    """

    time_s: FloatArray
    low_pa: FloatArray
    high_pa: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class BandedResult:
    """A firing's results as bands. Stress in Pa, tension positive.

    Attributes
    ----------
    heating_pa, cooling_pa, window_pa : Band
        Largest tension on heating, on cooling, in the window [Pa].
    residual_tension_pa : Band
        Largest residual tension [Pa].
    residual_mid_pa, residual_face_pa : Band
        Residual stress in the middle, and the lower of both faces [Pa].
    retardation_nm_cm : Band
        Edge-on [nm/cm].
    difference_k : Band
        Largest temperature difference through the slab in the window [K].
    middle : FiringResult
        The firing as it is most likely.
    cases : tuple of (words, FiringResult)
        Every computed case, the first one the middle; what was varied in words.
    envelope : Envelope or None
        The band of the tension over time, if slots were asked for.
    """

    heating_pa: Band
    cooling_pa: Band
    window_pa: Band
    residual_tension_pa: Band
    residual_mid_pa: Band
    residual_face_pa: Band
    retardation_nm_cm: Band
    difference_k: Band
    middle: FiringResult
    cases: tuple[tuple[str, FiringResult], ...]
    envelope: Envelope | None = field(default=None, repr=False)


DEFAULT_UNCERTAINTY = Uncertainty()


def simulate_band(
    firing: Firing,
    uncertainty: Uncertainty = DEFAULT_UNCERTAINTY,
    accuracy: Accuracy = DEFAULT_ACCURACY,
    *,
    trace_slots: int = 0,
) -> BandedResult:
    """Compute a firing with each uncertain number at both its ends, and at the worst.

    Parameters
    ----------
    firing : Firing
        The firing as it is most likely.
    uncertainty : Uncertainty
        What is varied.
    accuracy : Accuracy
        Nodes and steps of every case.
    trace_slots : int
        As in `simulate`; the other cases' courses end up in the envelope.

    Returns
    -------
    BandedResult
        Bands that contain their middle, and every case.

    Raises
    ------
    PhysicsProblem
        As `simulate`; also when an end of an uncertainty is implausible.

    Notes
    -----
    One at a time, each at both ends; then all that raised the largest residual tension
    together. The band is the range of these, not a probability.

    References
    ----------
    Common practice in engineering, no source.
    """
    cases = [("as given", simulate(firing, accuracy, trace_slots=trace_slots))]
    worst = firing
    for pair in _variations(firing, uncertainty):
        results = [
            (words, simulate(other, accuracy, trace_slots=trace_slots))
            for words, other in pair
        ]
        cases += results
        raised = [result.residual_max_tension_pa for _, result in results]
        at = raised.index(max(raised))
        if raised[at] > cases[0][1].residual_max_tension_pa:
            worst = _combined(worst, firing, pair[at][1])
    if worst is not firing:
        together = simulate(worst, accuracy, trace_slots=trace_slots)
        cases.append(("all that raised it together", together))
    envelope = _envelope([result for _, result in cases])
    # The courses are in the envelope: kept nine times over they would only take room.
    cases[1:] = [(words, replace(result, trace=None)) for words, result in cases[1:]]
    results_only = [result for _, result in cases]
    return BandedResult(
        heating_pa=_band([r.heating.tension_pa for r in results_only]),
        cooling_pa=_band([r.cooling.tension_pa for r in results_only]),
        window_pa=_band([r.window.tension_pa for r in results_only]),
        residual_tension_pa=_band([r.residual_max_tension_pa for r in results_only]),
        residual_mid_pa=_band([r.residual_mid_pa for r in results_only]),
        residual_face_pa=_band(
            [min(r.residual_top_pa, r.residual_bottom_pa) for r in results_only]
        ),
        retardation_nm_cm=_band([r.retardation_nm_cm for r in results_only]),
        difference_k=_band([r.window_difference_k for r in results_only]),
        middle=results_only[0],
        cases=tuple(cases),
        envelope=envelope,
    )


def _envelope(results: list[FiringResult]) -> Envelope | None:
    """Return the lowest and highest tension of the cases over time."""
    traces = [result.trace for result in results if result.trace is not None]
    if not traces:
        return None
    peaks_s = [trace.time_s[np.argmax(trace.tension_pa)] for trace in traces]
    time_s = np.unique(np.concatenate([traces[0].time_s, peaks_s]))
    tensions = np.array(
        [np.interp(time_s, trace.time_s, trace.tension_pa) for trace in traces]
    )
    return Envelope(
        time_s=time_s, low_pa=tensions.min(axis=0), high_pa=tensions.max(axis=0)
    )


def _band(values: list[float]) -> Band:
    return Band(low=min(values), middle=values[0], high=max(values))


def _variations(
    firing: Firing, uncertainty: Uncertainty
) -> list[list[tuple[str, Firing]]]:
    """Return, for each uncertain number, the firing at its ends."""
    varied: list[list[tuple[str, Firing]]] = []
    by_k = uncertainty.annealing_point_k
    if by_k and firing.is_relaxing:
        varied.append(
            [
                (f"annealing point {sign * by_k:+g} K", _annealing(firing, sign * by_k))
                for sign in (-1, 1)
            ]
        )
    share = uncertainty.conductivity_share
    if share:
        varied.append(
            [
                (
                    f"conductivity {sign * share:+.0%}",
                    replace(firing, glass=_conducting(firing.glass, 1 + sign * share)),
                )
                for sign in (-1, 1)
            ]
        )
    offset_k = uncertainty.thermocouple_k
    if offset_k:
        varied.append(
            [
                (f"kiln {sign * offset_k:+g} K", _offset(firing, sign * offset_k))
                for sign in (-1, 1)
            ]
        )
    if uncertainty.other_boundary is not None:
        other = replace(firing, boundary=uncertainty.other_boundary)
        varied.append([("the other boundary", other)])
    return varied


def _annealing(firing: Firing, by_k: float) -> Firing:
    point_c = firing.glass.annealing_point_c + by_k
    return replace(firing, glass=with_annealing_point(firing.glass, point_c))


def _conducting(glass: Glass, factor: float) -> Glass:
    a0, a1 = glass.conductivity_w_mk
    return replace(glass, conductivity_w_mk=(a0 * factor, a1 * factor))


def _offset(firing: Firing, by_k: float) -> Firing:
    """Shift the kiln, except where it stays at the room's temperature anyway."""
    # A thermocouple is as right at room temperature as the room's own thermometer;
    # its offset grows with temperature (assumed: straight, whole from 400 °C up).
    share = (firing.kiln_c - 20.0).clip(0.0, 380.0) / 380.0
    kiln_c = (firing.kiln_c + by_k * share).clip(COLDEST_C, HOTTEST_C)
    return replace(firing, kiln_c=kiln_c)


def _combined(worst: Firing, base: Firing, other: Firing) -> Firing:
    """Add to `worst` what `other` has different from `base`."""
    glass = worst.glass
    if other.glass.annealing_point_c != base.glass.annealing_point_c:
        glass = with_annealing_point(glass, other.glass.annealing_point_c)
    if other.glass.conductivity_w_mk != base.glass.conductivity_w_mk:
        glass = replace(glass, conductivity_w_mk=other.glass.conductivity_w_mk)
    return replace(
        worst,
        glass=glass,
        kiln_c=other.kiln_c if other.kiln_c is not base.kiln_c else worst.kiln_c,
        boundary=other.boundary if other.boundary != base.boundary else worst.boundary,
    )
