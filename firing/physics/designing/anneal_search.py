"""The fastest anneal whose whole band stays within the limits.

Only the part from the hottest glass down is searched here, from a slab of one
temperature; heating up, the length of the soak and the controller are in `design`.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from firing.physics.designing.annealing_table import (
    FIRST_STAGE_K,
    SECOND_STAGE_K,
    AnnealRow,
    CoolingRates,
)
from firing.physics.designing.band import (
    BandedResult,
    Corners,
    Uncertainty,
    simulate_band,
)
from firing.physics.glass.properties import KELVIN, Glass
from firing.physics.kiln.curve import UNKNOWN_KILN_C_PER_H, KilnCurve, kiln_curve
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.offset import shown_c, true_c
from firing.physics.limits import Limits
from firing.physics.refusals import Cause, metres, pascals, per_hour
from firing.physics.schedule import (
    ROUNDING_SLACK,
    PhysicsProblem,
    Programme,
    Segment,
)
from firing.physics.slab.input import Accuracy, SlabFiring
from firing.physics.slab.surroundings import Bending, Boundary

# The search accepts being this close under a limit, and aims half-way there.
CLOSE = 0.03
MOST_TRIES = 12
# From this try on, the first stages alone cannot explain a residual this far over.
PATIENCE, FAR_OVER = 4, 1.1
# One try changes a rate by no more than this factor: stress is only nearly
# proportional to it.
LARGEST_CHANGE = 4.0

# Soaks tried above the first [K], and second rates as multiples of the first; the
# table's own ratio comes first.
SOAK_STEPS_K = (0.0, 6.0, 12.0, 18.0, 24.0, 30.0)
TABLE_RATIO = 1.8
OTHER_RATIOS = (1.0, 1.35, 2.5, 3.5)
# The table's stages were made for a glass that is soaked 34 K below its annealing
# point of 516 °C, and end 89 and 145 K below that. Glass that is soaked closer to its
# annealing point, or stiffens more slowly, is still stiffening there; stages that end
# lower are tried in these shares of what is missing [K].
STIFF_BELOW_ANNEALING_K = 89.0
STIFF_KELVIN2_PER_ACTIVATION_K = (516.0 + 273.15) ** 2 / 7.0e4
LEAST_DEEPER_K = 16.0
DEPTHS = (0.5, 1.0, 1.5)
# Slower ways down to the soak [°C/h]: glass that is stiff there already gets less
# stress and keeps less of it.
DROPS_C_PER_H = (120.0, 90.0, 60.0)
# Above the annealing point a soak does no more than a lower one.
HIGHEST_ABOVE_ANNEALING_K = 0.0

COARSE = Accuracy(nodes=13)
SOAK, FIRST, SECOND, FINAL = range(4)
Choice = tuple[float, float, float, float | None]
STAGES = ("cooling 1", "cooling 2", "final cooling")


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnealProblem:
    """What is to be annealed, and the limits for it.

    Attributes
    ----------
    glass, thickness_m, boundary, bending
        As in `SlabFiring`.
    uncertainty, limits
        Band and limits.
    process_c : float
        Where the glass is when it begins to cool [°C].
    soak_c : float
        First soak to be tried [°C].
    may_raise_soak : bool
        Whether hotter soaks may be tried.
    soak_s : float
        Shortest soak [s].
    opening_c : float
        Where it ends [°C].
    kiln : KilnModel or None
        The kiln; None as in `curve`.
    slowest_c_per_h, fastest_c_per_h, step_c_per_h : float
        Slowest and fastest rate that the controller takes, and their step [°C/h].
    floor : AnnealRow or None
        Rule that no rate may be faster, and no soak shorter than.
    kiln_offset_k : float
        How much hotter the kiln is than it shows [K].
    """

    glass: Glass
    thickness_m: float
    boundary: Boundary
    bending: Bending
    uncertainty: Uncertainty
    limits: Limits
    process_c: float
    soak_c: float
    may_raise_soak: bool
    soak_s: float
    opening_c: float
    kiln: KilnModel | None
    slowest_c_per_h: float
    fastest_c_per_h: float
    step_c_per_h: float
    floor: AnnealRow | None
    kiln_offset_k: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Anneal:
    """One anneal.

    Attributes
    ----------
    soak_c, soak_s : float
        Soak [°C, s].
    drop_c_per_h : float or None
        Rate down to the soak [°C/h]; None is as fast as the kiln can.
    rates_c_per_h : CoolingRates
        Of the three stages below the soak [°C/h].
    deeper_k : float
        How much lower than the table's the first two stages end [K].
    """

    soak_c: float
    soak_s: float
    drop_c_per_h: float | None
    rates_c_per_h: CoolingRates
    deeper_k: float = 0.0

    def segments(
        self, *, opening_c: float, kiln_offset_k: float = 0.0
    ) -> tuple[Segment, ...]:
        """Return the soak and what follows as typed, in the table's stages.

        Parameters
        ----------
        opening_c : float
            Where it ends, as the kiln shows it [°C].
        kiln_offset_k : float
            How much hotter the kiln is than it shows [K].

        References
        ----------
        Stages of 55 and 56 K: `annealing_table`.
        """
        first_c = self.soak_c - FIRST_STAGE_K - self.deeper_k
        segments = [
            Segment(
                label="anneal soak",
                rate_c_per_h=self.drop_c_per_h,
                target_c=shown_c(self.soak_c, kiln_offset_k),
                hold_s=self.soak_s,
            )
        ]
        stages = zip(
            STAGES,
            self.rates_c_per_h,
            (
                shown_c(first_c, kiln_offset_k),
                shown_c(first_c - SECOND_STAGE_K, kiln_offset_k),
                opening_c,
            ),
            strict=True,
        )
        for label, rate, lowest_c in stages:
            target_c = max(lowest_c, opening_c)
            segments.append(Segment(label=label, rate_c_per_h=rate, target_c=target_c))
            if lowest_c <= opening_c:
                break
        return tuple(segments)


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundAnneal:
    """An anneal that stays within the limits.

    Attributes
    ----------
    anneal : Anneal
        The anneal.
    lasts_s : float
        From the hottest glass to the opening temperature [s].
    band : BandedResult
        Its stresses; the window is the final cooling.
    tries : int
        How many bands were computed in all.
    """

    anneal: Anneal
    lasts_s: float
    band: BandedResult
    tries: int


def search_anneal(
    problem: AnnealProblem, told: Callable[[int], None] | None = None
) -> FoundAnneal:
    """Return the anneal of the fewest hours whose band stays within the limits.

    Parameters
    ----------
    problem : AnnealProblem
        What is annealed.
    told : callable or None
        Called with the number of bands computed so far before each; what it raises ends
        the search.

    Raises
    ------
    PhysicsProblem
        If none of the tried ones stays within the limits, or the controller takes no
        rate as slow as the floor's.

    Notes
    -----
    The rates start from a steady ramp's stress, or from the floor. Each try computes
    the band, and each rate is scaled by limit over stress of what it governs: first
    and second by the residual, the final one by the tension in its own stage, the
    drop to the soak by the tension before the cooling. Hotter soaks, deeper
    stages, other ratios of the second rate to the first and slower drops are tried in a fixed
    order, and left when even their start would take longer than the best found.

    References
    ----------
    Steady ramp: residual F M alpha q d²/(24 kappa), temporary M alpha q d²/(12 kappa),
    derived; F = 1.66 for an expansion of the liquid three times that of the glass,
    converged value of this model.
    """
    _check_controller(problem)
    search = _Search(problem, told)
    for soak_c in _soaks(problem):
        search.attempt(soak_c, TABLE_RATIO, 0.0)
    for share in DEPTHS:
        soak_c, ratio, _, drop = search.at
        deeper_k = share * _missing_depth_k(problem, soak_c)
        search.attempt(soak_c, ratio, deeper_k, drop)
    for ratio in OTHER_RATIOS:
        if problem.floor is not None and ratio > TABLE_RATIO:
            break
        soak_c, _, deeper_k, drop = search.at
        search.attempt(soak_c, ratio, deeper_k, drop)
    for soak_c in _soaks(problem):
        for slowed in DROPS_C_PER_H:
            search.attempt(soak_c, TABLE_RATIO, 0.0, slowed)
    best = search.best
    if best is None:
        raise PhysicsProblem(
            Cause.NO_ANNEAL,
            thickness=metres(problem.thickness_m),
            temporary=pascals(problem.limits.temporary_pa),
            residual=pascals(problem.limits.residual_pa),
        )
    return replace(best, tries=search.tries)


def curve_of(problem: AnnealProblem, anneal: Anneal) -> KilnCurve:
    """Return the kiln's course of an anneal.

    Parameters
    ----------
    problem : AnnealProblem
        The kiln, and where it begins and ends.
    anneal : Anneal
        The anneal.

    References
    ----------
    `curve`.
    """
    schedule = Programme(
        start_c=shown_c(problem.process_c, problem.kiln_offset_k),
        segments=anneal.segments(
            opening_c=problem.opening_c, kiln_offset_k=problem.kiln_offset_k
        ),
    )
    return kiln_curve(schedule, problem.kiln, until_c=problem.opening_c)


def _soaks(problem: AnnealProblem) -> Iterator[float]:
    yield problem.soak_c
    if not problem.may_raise_soak:
        return
    highest_c = min(
        problem.glass.annealing_point_c + HIGHEST_ABOVE_ANNEALING_K,
        problem.process_c - 1,
    )
    for step_k in SOAK_STEPS_K[1:]:
        if problem.soak_c + step_k <= highest_c:
            yield problem.soak_c + step_k


def _missing_depth_k(problem: AnnealProblem, soak_c: float) -> float:
    """Return how much the first stage ends above where this glass has stiffened [K]."""
    annealing_c = problem.glass.annealing_point_c
    spread = (annealing_c + KELVIN) ** 2 / problem.glass.activation_k
    stiff_k = STIFF_BELOW_ANNEALING_K * spread / STIFF_KELVIN2_PER_ACTIVATION_K
    missing_k = soak_c - FIRST_STAGE_K - (annealing_c - stiff_k)
    return max(missing_k, LEAST_DEEPER_K)


class _Search:
    """The best anneal so far, and the choice that it came from.

    A choice is soak, ratio, depth and the drop to begin with (None: as fast as the
    kiln can).
    """

    def __init__(
        self, problem: AnnealProblem, told: Callable[[int], None] | None
    ) -> None:
        self.problem = problem
        self.told = told
        self.best: FoundAnneal | None = None
        self.at: Choice = (problem.soak_c, TABLE_RATIO, 0.0, None)
        self.tops: Corners | None = None
        self.tries = 0

    def attempt(
        self,
        soak_c: float,
        ratio: float,
        deeper_k: float,
        drop_c_per_h: float | None = None,
    ) -> None:
        """Make one choice's anneal as fast as the limits allow; keep it if better."""
        problem = self.problem
        if problem.floor is not None:
            # A hotter soak leaves the rule's stages where they are, or glass at one
            # temperature would be cooled faster than the rule has it.
            deeper_k = max(deeper_k, soak_c - problem.soak_c)
        anneal = _first_guess(problem, soak_c, ratio, deeper_k, drop_c_per_h)
        seen: set[CoolingRates] = set()
        for tried in range(MOST_TRIES):
            curve = curve_of(problem, anneal)
            record_s = self.best.lasts_s if self.best else math.inf
            is_floor = tried == 0 and problem.floor is not None
            if is_floor and curve.lasts_s >= record_s:
                return  # Rates only get slower than the floor's.
            if self.told is not None:
                self.told(self.tries)
            self.tries += 1
            band = self._band(curve, record_s)
            if curve.lasts_s >= record_s and not _is_within(problem, band):
                return  # It would have to get slower still.
            if _is_within(problem, band) and curve.lasts_s < record_s:
                self.best = FoundAnneal(
                    anneal=anneal, lasts_s=curve.lasts_s, band=band, tries=0
                )
                self.at = (soak_c, ratio, deeper_k, drop_c_per_h)
            better = _scaled(problem, anneal, band, curve, ratio)
            if tried >= PATIENCE and band.residual_tension_pa.high > (
                FAR_OVER * problem.limits.residual_pa
            ):
                # Glass that is still stiffening in the final cooling wants that slower
                # too.
                better = _slower_at_the_end(problem, better, band)
            seen.add(anneal.rates_c_per_h)
            if _is_same(anneal, better) or (
                better.rates_c_per_h in seen
                and better.drop_c_per_h == anneal.drop_c_per_h
            ):
                return  # Two neighbours on the controller's grid, in turn.
            anneal = better

    def _band(self, curve: KilnCurve, record_s: float) -> BandedResult:
        """Return the band where its tops are expected; all of it before accepting it."""
        if self.tops is not None:
            band = _band(self.problem, curve, self.tops)
            if curve.lasts_s >= record_s or not _is_within(self.problem, band):
                return band
        band = _band(self.problem, curve, None)
        self.tops = tuple(dict.fromkeys((*(self.tops or ()), *band.tops)))
        return band


def _first_guess(
    problem: AnnealProblem,
    soak_c: float,
    ratio: float,
    deeper_k: float,
    drop_c_per_h: float | None,
) -> Anneal:
    glass, limits = problem.glass, problem.limits
    squared = problem.thickness_m**2 / glass.diffusivity_m2_s(soak_c)
    one = glass.plane_modulus_pa * glass.expansion_glass_per_k * squared / 3600
    relative = glass.expansion_liquid_per_k / glass.expansion_glass_per_k
    frozen = 1 + 0.33 * (relative - 1)
    # The band's top lies about half above its middle.
    first = limits.residual_pa / 1.5 * 24 / (frozen * one)
    final = limits.temporary_pa / 1.5 * 12 / one
    return _bounded(
        problem,
        Anneal(
            soak_c=soak_c,
            soak_s=problem.soak_s,
            drop_c_per_h=drop_c_per_h,
            rates_c_per_h=CoolingRates(first, ratio * first, final),
            deeper_k=deeper_k,
        ),
        ratio,
    )


def _band(
    problem: AnnealProblem, curve: KilnCurve, only: Corners | None
) -> BandedResult:
    ends_s = curve.segment_ends_s
    final_from_s = ends_s[SECOND] if len(ends_s) > FINAL else ends_s[-2]
    firing = SlabFiring(
        glass=problem.glass,
        thickness_m=problem.thickness_m,
        boundary=problem.boundary,
        bending=problem.bending,
        time_s=curve.time_s,
        kiln_c=true_c(curve.temperature_c, problem.kiln_offset_k),
        window_s=(final_from_s, curve.lasts_s),
        opening_c=problem.opening_c,
    )
    return simulate_band(firing, problem.uncertainty, COARSE, only=only)


def _is_within(problem: AnnealProblem, band: BandedResult) -> bool:
    return (
        band.residual_tension_pa.high <= problem.limits.residual_pa
        and band.cooling_pa.high <= problem.limits.temporary_pa
    )


def _scaled(
    problem: AnnealProblem,
    anneal: Anneal,
    band: BandedResult,
    curve: KilnCurve,
    ratio: float,
) -> Anneal:
    """Return the anneal with each rate scaled towards the limit that governs it."""
    limits = problem.limits
    early = _early_peaks(band, curve)
    slow = min(
        _factor(limits.residual_pa, band.residual_tension_pa.high),
        _factor(limits.temporary_pa, max(early[FIRST], early[SECOND])),
    )
    first, _, final = anneal.rates_c_per_h
    drop = anneal.drop_c_per_h
    if max(early[SOAK], 0.0) > limits.temporary_pa:
        running = drop or _drop_rate(curve)
        drop = running * _factor(limits.temporary_pa, early[SOAK])
    rates = CoolingRates(
        first * slow,
        first * slow * ratio,
        final * _factor(limits.temporary_pa, band.window_pa.high),
    )
    return _bounded(
        problem, replace(anneal, drop_c_per_h=drop, rates_c_per_h=rates), ratio
    )


def _slower_at_the_end(
    problem: AnnealProblem, anneal: Anneal, band: BandedResult
) -> Anneal:
    factor = _factor(problem.limits.residual_pa, band.residual_tension_pa.high)
    first, second, final = anneal.rates_c_per_h
    final = _on_grid(problem, final * min(factor, 1.0), final)
    return replace(anneal, rates_c_per_h=CoolingRates(first, second, final))


def _early_peaks(band: BandedResult, curve: KilnCurve) -> list[float]:
    """Return the largest tension that a case had in each stage, where it was worst."""
    peaks = [0.0] * 4
    ends_s = curve.segment_ends_s
    for _, result in band.cases:
        peak = result.cooling
        stage = sum(peak.at_s > end_s + 1 for end_s in ends_s[:FINAL])
        stage = min(stage, FINAL)
        peaks[stage] = max(peaks[stage], peak.tension_pa)
    return peaks


def _factor(limit_pa: float, stress_pa: float) -> float:
    """Return by what to multiply a rate; 1 when it is close enough under the limit."""
    if (1 - CLOSE) * limit_pa <= stress_pa <= limit_pa:
        return 1.0
    wanted = (1 - CLOSE / 2) * limit_pa / max(stress_pa, 1.0)
    return min(max(wanted, 1 / LARGEST_CHANGE), LARGEST_CHANGE)


def _drop_rate(curve: KilnCurve) -> float:
    """Return the kiln's mean rate of falling to the soak [°C/h]."""
    at_soak = int(abs(curve.temperature_c - curve.temperature_c[0]).argmax())
    first_c = float(curve.temperature_c[0])
    for place, value_c in enumerate(curve.temperature_c):
        if place + 1 < curve.temperature_c.size and (
            curve.temperature_c[place + 1] == value_c
        ):
            at_soak = place
            break
    lasts_s = float(curve.time_s[at_soak])
    fell_k = first_c - float(curve.temperature_c[at_soak])
    return fell_k / lasts_s * 3600 if lasts_s > 0 else UNKNOWN_KILN_C_PER_H


def _bounded(problem: AnnealProblem, anneal: Anneal, ratio: float) -> Anneal:
    """Keep rates within the floor, the controller, and what a known kiln can do."""
    fastest = problem.fastest_c_per_h
    if problem.kiln is None:
        fastest = min(fastest, UNKNOWN_KILN_C_PER_H)
    tops = CoolingRates(fastest, fastest, fastest)
    soak_s = problem.soak_s
    if problem.floor is not None:
        tops = CoolingRates(
            *(min(fastest, rate) for rate in problem.floor.rates_c_per_h)
        )
        soak_s = max(soak_s, problem.floor.soak_s)
    first, _, final = anneal.rates_c_per_h
    rates = CoolingRates(
        _on_grid(problem, first, tops.first),
        _on_grid(problem, first * ratio, tops.second),
        _on_grid(problem, final, tops.final),
    )
    return replace(anneal, soak_s=soak_s, rates_c_per_h=rates)


def _check_controller(problem: AnnealProblem) -> None:
    """Refuse a controller whose slowest rate is faster than the floor's."""
    if problem.floor is None:
        return
    slowest = _on_grid(problem, 0.0, math.inf)
    if slowest > problem.floor.rates_c_per_h.first + ROUNDING_SLACK:
        raise PhysicsProblem(
            Cause.ROW_TOO_SLOW,
            thickness=metres(problem.thickness_m),
            rate=per_hour(problem.floor.rates_c_per_h.first),
            slowest=per_hour(slowest),
        )


def _on_grid(problem: AnnealProblem, rate: float, top: float) -> float:
    """Return the next slower rate of the controller, but not below its slowest."""
    step = problem.step_c_per_h
    steps = math.floor(min(rate, top) / step + ROUNDING_SLACK)
    least = math.ceil(problem.slowest_c_per_h / step - ROUNDING_SLACK)
    return max(steps, least, 1) * step


def _is_same(anneal: Anneal, other: Anneal) -> bool:
    drops = (anneal.drop_c_per_h or 0.0, other.drop_c_per_h or 0.0)
    pairs = zip(
        (*anneal.rates_c_per_h, drops[0]),
        (*other.rates_c_per_h, drops[1]),
        strict=True,
    )
    return all(math.isclose(one, two, rel_tol=1e-9) for one, two in pairs)
