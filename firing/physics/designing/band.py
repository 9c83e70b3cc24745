"""How sure a firing's stresses are: the same firing over everything uncertain in it.

A bare number would promise more than a plate of one dimension and a data sheet can
keep. What is varied, and by how much, is stated; `simulation` computes each firing.
"""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import product

import numpy as np

from firing.physics.glass.properties import with_annealing_point, with_conductivity
from firing.physics.kiln.offset import share_of_offset
from firing.physics.refusals import Cause, kelvin
from firing.physics.schedule import FloatArray, PhysicsProblem
from firing.physics.slab.across import likely_and_extremes, through_the_rim
from firing.physics.slab.input import (
    COLDEST_C,
    DEFAULT_ACCURACY,
    HOTTEST_C,
    Accuracy,
    Across,
    SlabFiring,
)
from firing.physics.slab.result import FiringResult
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import Boundary

# Firings of a band are computed side by side: the compiled march lets other threads run.
LANES = 2
MOST_UNCERTAIN_K = 40.0
# Between the cases that are computed the tension on the way may be higher than in any
# of them: by up to 1.4 % in 4,800 cases drawn between them, thickness 12 to 100 mm.
# What stays never was.
BETWEEN_CASES = 0.03
# A corner says for each uncertain number which of its ends is taken; None is neither.
Corner = tuple[int | None, ...]
Corners = tuple[Corner, ...]
_Factor = list[tuple[str, Callable[[SlabFiring], SlabFiring]]]
# The values whose tops a search must know.
TENSIONS: tuple[Callable[[FiringResult], float], ...] = (
    lambda result: result.residual_max_tension_pa,
    lambda result: result.heating.tension_pa,
    lambda result: result.cooling.tension_pa,
    lambda result: result.window.tension_pa,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertainty:
    """What cannot be known exactly; all assumptions of this project.

    Attributes
    ----------
    annealing_point_k : float
        The annealing point is that much higher or lower [K], 0 to 40.
    annealing_point_above_k : float or None
        How much higher, where that is not how much lower [K], 0 to 40.
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
    annealing_point_above_k: float | None = None

    @property
    def annealing_point_up_k(self) -> float:
        """How much higher the annealing point may be [K]."""
        above_k = self.annealing_point_above_k
        return self.annealing_point_k if above_k is None else above_k

    def __post_init__(self) -> None:
        if not (
            0 <= self.annealing_point_k <= MOST_UNCERTAIN_K
            and 0 <= self.annealing_point_up_k <= MOST_UNCERTAIN_K
            and 0 <= self.conductivity_share <= 0.5
            and 0 <= self.thermocouple_k <= MOST_UNCERTAIN_K
        ):
            raise PhysicsProblem(Cause.UNCERTAINTY, most=kelvin(MOST_UNCERTAIN_K))


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A value's range: the lowest, the middle and the highest."""

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
class AcrossBand:
    """What an uneven kiln adds, see `slab.across`. Tension [Pa].

    Attributes
    ----------
    residual_pa, heating_pa, cooling_pa : Band
        The larger of the tensions in the middle and along the rim.
    dams_residual_pa, dams_cooling_pa : float
        A bound of what heat through dams, or an open rim, adds in an even kiln; never
        in a band.
    """

    residual_pa: Band
    heating_pa: Band
    cooling_pa: Band
    dams_residual_pa: float = 0.0
    dams_cooling_pa: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BandedResult:
    """A firing's results as bands. Stress in Pa, tension positive.

    An uneven kiln is in the tensions and the retardation if it is counted: to each end
    of the plate's own band comes the least and the most that it may add.

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
    tops : tuple of Corner
        Which cases hold the highest of heating, cooling, window and residual tension.
    envelope : Envelope or None
        The band of the tension over time, without an uneven kiln, if slots were asked
        for.
    across : AcrossBand or None
        What an uneven kiln adds, if one was given.
    plate : BandedResult or None
        The same without an uneven kiln, if it is counted above.
    by_annealing_point : tuple of (annealing point, residual tension)
        Largest residual tension [Pa] at each annealing point of the band [°C], coldest
        first, all else as given.
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
    tops: Corners = ()
    envelope: Envelope | None = field(default=None, repr=False)
    across: AcrossBand | None = None
    plate: "BandedResult | None" = field(default=None, repr=False)
    by_annealing_point: tuple[tuple[float, float], ...] = ()

    @property
    def counted(self) -> AcrossBand | None:
        """What of an uneven kiln is in these bands."""
        return None if self.plate is None else self.across


DEFAULT_UNCERTAINTY = Uncertainty()


def simulate_band(
    firing: SlabFiring,
    uncertainty: Uncertainty = DEFAULT_UNCERTAINTY,
    accuracy: Accuracy = DEFAULT_ACCURACY,
    *,
    trace_slots: int = 0,
    only: Corners | None = None,
) -> BandedResult:
    """Compute a firing with each uncertain number at both its ends, and all together.

    Parameters
    ----------
    firing : SlabFiring
        The firing as it is most likely.
    uncertainty : Uncertainty
        What is varied.
    accuracy : Accuracy
        Nodes and steps of every case.
    trace_slots : int
        As in `simulate`; the other cases' courses end up in the envelope.
    only : tuple of Corner or None
        Compute these beside the middle and nothing else, as a search does that knows
        from a like firing where the tops are; None is every case.

    Returns
    -------
    BandedResult
        Bands that contain their middle, and every case; the top of the tensions on the
        way is 3 % above the highest case, for what lies between them.

    Raises
    ------
    PhysicsProblem
        As `simulate`; also when an end of an uncertainty is implausible.

    Notes
    -----
    One at a time, each at both ends; then every corner, that is all of them at an end
    at once, with either boundary. Each result's band is from its own lowest to its own
    highest of these: what raises the residual may lower the tension on the way. It is
    a range of cases, not a probability.

    References
    ----------
    Common practice in engineering, no source.
    """
    factors = _factors(firing, uncertainty)
    as_given: Corner = (None,) * len(factors)
    wanted = _every_case(factors) if only is None else only
    corners = [as_given, *(corner for corner in wanted if corner != as_given)]
    # Making them refuses what is implausible, before anything is computed.
    firings = [_at(firing, factors, corner) for corner in corners]
    with ThreadPoolExecutor(LANES) as pool:
        results = list(
            pool.map(
                lambda one: simulate(one, accuracy, trace_slots=trace_slots), firings
            )
        )
    cases = [
        (_words(factors, corner), result)
        for corner, result in zip(corners, results, strict=True)
    ]
    envelope = _envelope([result for _, result in cases])
    # The courses are in the envelope: kept for every case they would only take space.
    cases[1:] = [(words, replace(result, trace=None)) for words, result in cases[1:]]
    results_only = [result for _, result in cases]
    plate = BandedResult(
        heating_pa=_on_the_way([r.heating.tension_pa for r in results_only]),
        cooling_pa=_on_the_way([r.cooling.tension_pa for r in results_only]),
        window_pa=_on_the_way([r.window.tension_pa for r in results_only]),
        residual_tension_pa=_band([r.residual_max_tension_pa for r in results_only]),
        residual_mid_pa=_band([r.residual_mid_pa for r in results_only]),
        residual_face_pa=_band(
            [min(r.residual_top_pa, r.residual_bottom_pa) for r in results_only]
        ),
        retardation_nm_cm=_band([r.retardation_nm_cm for r in results_only]),
        difference_k=_band([r.window_difference_k for r in results_only]),
        middle=results_only[0],
        cases=tuple(cases),
        tops=_tops(corners, results),
        envelope=envelope,
        by_annealing_point=_by_annealing_point(corners, firings, results),
    )
    if firing.across is None:
        return plate
    share = uncertainty.conductivity_share
    across = _across(firing, firing.across, share, is_told=only is None)
    return (
        _superposed(plate, across)
        if firing.across.is_counted
        else replace(plate, across=across)
    )


def _across(
    firing: SlabFiring, across: Across, share: float, *, is_told: bool
) -> AcrossBand:
    """Return what an uneven kiln adds; what dams add only where somebody reads it."""
    found = likely_and_extremes(firing, across, share)
    dams = through_the_rim(firing, across, share) if is_told else None
    return AcrossBand(
        residual_pa=_band([one.residual_tension_pa for one in found]),
        heating_pa=_band([one.heating_pa for one in found]),
        cooling_pa=_band([one.cooling_pa for one in found]),
        dams_residual_pa=dams.residual_tension_pa if dams else 0.0,
        dams_cooling_pa=dams.cooling_pa if dams else 0.0,
    )


def _superposed(plate: BandedResult, across: AcrossBand) -> BandedResult:
    """Return the plate's bands with what an uneven kiln adds.

    Their largest need be neither at one moment nor at one place: an upper bound.
    """

    def plus(one: Band, more: Band, factor: float = 1.0) -> Band:
        return Band(
            low=one.low + factor * more.low,
            middle=one.middle + factor * more.middle,
            high=one.high + factor * more.high,
        )

    tension_pa = plate.middle.residual_max_tension_pa
    per_pa = plate.middle.retardation_nm_cm / tension_pa if tension_pa else 0.0
    return replace(
        plate,
        heating_pa=plus(plate.heating_pa, across.heating_pa),
        cooling_pa=plus(plate.cooling_pa, across.cooling_pa),
        window_pa=plus(plate.window_pa, across.cooling_pa),
        residual_tension_pa=plus(plate.residual_tension_pa, across.residual_pa),
        retardation_nm_cm=plus(plate.retardation_nm_cm, across.residual_pa, per_pa),
        across=across,
        plate=plate,
    )


def merged(bands: tuple[BandedResult, ...], told: tuple[str, ...]) -> BandedResult:
    """Return one band over several: the first one's middle, everybody's ends.

    Parameters
    ----------
    bands : tuple of BandedResult
        The firing as it most likely was, and as it may have been.
    told : tuple of str
        What each of the others supposes, in words, for its cases.

    References
    ----------
    None: bookkeeping.
    """
    first, others = bands[0], bands[1:]
    if not others:
        return first

    def whole(name: str) -> Band:
        every: list[Band] = [getattr(band, name) for band in bands]
        return Band(
            low=min(band.low for band in every),
            middle=every[0].middle,
            high=max(band.high for band in every),
        )

    more = [
        (f"{words}, {case}", result)
        for words, band in zip(told, others, strict=True)
        for case, result in band.cases
    ]
    return replace(
        first,
        heating_pa=whole("heating_pa"),
        cooling_pa=whole("cooling_pa"),
        window_pa=whole("window_pa"),
        residual_tension_pa=whole("residual_tension_pa"),
        residual_mid_pa=whole("residual_mid_pa"),
        residual_face_pa=whole("residual_face_pa"),
        retardation_nm_cm=whole("retardation_nm_cm"),
        difference_k=whole("difference_k"),
        cases=(*first.cases, *more),
        envelope=_whole_envelope([band.envelope for band in bands]),
    )


def _whole_envelope(envelopes: list[Envelope | None]) -> Envelope | None:
    known = [one for one in envelopes if one is not None]
    if not known:
        return None
    time_s = np.unique(np.concatenate([one.time_s for one in known]))

    def over(name: str) -> list[FloatArray]:
        return [np.interp(time_s, one.time_s, getattr(one, name)) for one in known]

    return Envelope(
        time_s=time_s,
        low_pa=np.min(over("low_pa"), axis=0),
        high_pa=np.max(over("high_pa"), axis=0),
    )


def _every_case(factors: list[_Factor]) -> Corners:
    """Return each number at each end by itself, then every corner of all together."""
    alone = [
        tuple(end if at == place else None for at in range(len(factors)))
        for place, factor in enumerate(factors)
        for end in range(len(factor))
    ]
    ends: list[tuple[int | None, ...]] = [
        (0, 1) if len(factor) > 1 else (None, 0) for factor in factors
    ]
    together = [corner for corner in product(*ends) if corner not in alone]
    return (*alone, *together)


def _tops(corners: list[Corner], results: list[FiringResult]) -> Corners:
    """Return the cases with the highest of each tension, each once."""
    tops = [
        max(zip(corners, results, strict=True), key=lambda case: tension(case[1]))[0]
        for tension in TENSIONS
    ]
    return tuple(dict.fromkeys(tops))


def _by_annealing_point(
    corners: list[Corner], firings: list[SlabFiring], results: list[FiringResult]
) -> tuple[tuple[float, float], ...]:
    """Return the residual tension where the annealing point alone is varied."""
    given_c = firings[0].glass.annealing_point_c
    found = {}
    for corner, firing, result in zip(corners, firings, results, strict=True):
        point_c = firing.glass.annealing_point_c
        others = sum(end is not None for end in corner) - (point_c != given_c)
        if not others:
            found[point_c] = result.residual_max_tension_pa
    return tuple(sorted(found.items()))


def _words(factors: list[_Factor], corner: Corner) -> str:
    said = [
        factor[end][0]
        for factor, end in zip(factors, corner, strict=True)
        if end is not None
    ]
    return ", ".join(said) or "as given"


def _at(firing: SlabFiring, factors: list[_Factor], corner: Corner) -> SlabFiring:
    """Return the firing with the ends of a corner."""
    for factor, end in zip(factors, corner, strict=True):
        if end is not None:
            firing = factor[end][1](firing)
    return firing


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
        time_s=time_s,
        low_pa=tensions.min(axis=0),
        high_pa=tensions.max(axis=0) * _margin(len(results)),
    )


def _band(values: list[float]) -> Band:
    return Band(low=min(values), middle=values[0], high=max(values))


def _on_the_way(values: list[float]) -> Band:
    """Return a band whose top holds what lies between the cases, too."""
    band = _band(values)
    return replace(band, high=band.high * _margin(len(values)))


def _margin(cases: int) -> float:
    return 1 + BETWEEN_CASES if cases > 1 else 1.0


def _factors(firing: SlabFiring, uncertainty: Uncertainty) -> list[_Factor]:
    """Return, for each uncertain number, its ends: what is changed, and how."""
    factors: list[_Factor] = []
    ends_k = (-uncertainty.annealing_point_k, uncertainty.annealing_point_up_k)
    if any(ends_k) and firing.is_relaxing:
        factors.append(
            [
                (f"annealing point {by:+g} K", partial(_annealing, by_k=by))
                for by in ends_k
            ]
        )
    share = uncertainty.conductivity_share
    if share:
        factors.append(
            [
                (f"conductivity {by:+.0%}", partial(_conducting, factor=1 + by))
                for by in (-share, share)
            ]
        )
    off_k = uncertainty.thermocouple_k
    if off_k:
        factors.append(
            [(f"kiln {by:+g} K", partial(_offset, by_k=by)) for by in (-off_k, off_k)]
        )
    if uncertainty.other_boundary is not None:
        other = partial(replace, boundary=uncertainty.other_boundary)
        factors.append([("the other boundary", other)])
    return factors


def _annealing(firing: SlabFiring, *, by_k: float) -> SlabFiring:
    point_c = firing.glass.annealing_point_c + by_k
    return replace(firing, glass=with_annealing_point(firing.glass, point_c))


def _conducting(firing: SlabFiring, *, factor: float) -> SlabFiring:
    return replace(firing, glass=with_conductivity(firing.glass, factor))


def _offset(firing: SlabFiring, *, by_k: float) -> SlabFiring:
    """Shift the kiln, except where it stays at room temperature anyway."""
    kiln_c = firing.kiln_c + by_k * share_of_offset(firing.kiln_c)
    return replace(firing, kiln_c=kiln_c.clip(COLDEST_C, HOTTEST_C))
