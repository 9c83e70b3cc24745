"""A schedule designed by computation, and what it is compared with.

`heat_up` finds the way up, `anneal_search` the anneal. Here they are put together,
fitted to the controller and computed once more as fitted, because that is what the kiln
will be told.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from firing.physics.designing.anneal_search import (
    Anneal,
    AnnealProblem,
    search_anneal,
)
from firing.physics.designing.annealing_table import (
    ROWS,
    AnnealRow,
    exact_rule,
    next_thicker_row,
    row_at_or_above,
)
from firing.physics.designing.band import (
    AcrossBand,
    Band,
    BandedResult,
    simulate_band,
)
from firing.physics.designing.evening_out import Evening, slow_time_s, time_until_even_s
from firing.physics.designing.heat_up import LONG, HeatUp, heat_up, stack_of
from firing.physics.designing.reasons import Why, reasons_of
from firing.physics.designing.request import (
    DesignRequest,
    Kind,
    exact_faces,
    first_soak_c,
    process_of,
    table_rule,
)
from firing.physics.designing.unevenness import left_for_the_plate, widest_radius_m
from firing.physics.kiln import opening
from firing.physics.kiln.curve import KilnCurve, kiln_curve
from firing.physics.kiln.offset import shown_c, true_c
from firing.physics.kiln.opening import (
    READY_WITHIN_K,
    ROOM_C,
    Slab,
    curve_until_out,
    taken_out,
)
from firing.physics.limits import LEAST_PA, Limits
from firing.physics.refusals import Cause, metres
from firing.physics.schedule import (
    PhysicsProblem,
    Programme,
    Segment,
    fit_to_controller,
)
from firing.physics.slab.input import Accuracy, SlabFiring

FINE = Accuracy(nodes=21)
COARSE = Accuracy(nodes=13)
TRACE_SLOTS = 600
MOST_FITS = 5
# The search is coarser than the final computation: it stays this much further from the
# limits, so that the fitted schedule is usually within them at once.
ROOM_FOR_STEPS = 0.995
# Beyond the miss, the search is repeated with limits tightened by this much.
SPARE = 0.99
# A programme does not end closer to the room than this.
LEAST_FALL_K = 3.0


class Rule(StrEnum):
    """The source of an anneal."""

    DESIGN = "design"
    TABLE_ROW = "table row"
    NEXT_ROW = "next row"
    EXACT = "exact rule"


@dataclass(frozen=True, slots=True, kw_only=True)
class Computed:
    """A schedule and what it does to the glass.

    Attributes
    ----------
    rule : Rule
        Where its anneal comes from.
    row_m : float or None
        Thickness of the table's row, if it is one [m].
    schedule : Programme
        The programme.
    curve : KilnCurve
        The kiln under it.
    opens_c : float
        All the glass must be below it before it is taken out [°C]: the studio's own
        opening temperature, or what the thickness allows where that is lower.
    kiln_s : float
        From cold until the glass may be taken out [s]. The band goes on from there
        into the room's air.
    anneal_s : float
        From the start of the soak until then [s].
    band : BandedResult
        Its stresses; the window is the cooling after the soak.
    ready_s : Band or None
        When all the glass is within 2 K of the opening temperature, which may be later
        than the kiln [s]; None if a case of the band never gets there.
    is_within : bool
        Whether the whole band is within the limits.
    """

    rule: Rule
    row_m: float | None
    schedule: Programme
    curve: KilnCurve
    opens_c: float
    kiln_s: float
    anneal_s: float
    band: BandedResult
    ready_s: Band | None
    is_within: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Design:
    """A designed schedule, why it is as it is, and what is compared with it.

    Attributes
    ----------
    request : DesignRequest
        What was asked for, with the uncertainty that was used.
    proposed : Computed
        The schedule as fitted to the controller; within the limits.
    compared : tuple of Computed
        The table's row, its next thicker row where there is one, and the exact rule,
        with the same way up, as they are in the table (not fitted to the controller).
    why : tuple of Why
        What governs each segment.
    evening : Evening
        How long the soak must be for the slab to be even.
    soak_c : float
        The anneal soak [°C].
    bands_computed : int
        How many bands the search took.
    widest_m : float or None
        How long a slab may be in this kiln to stay within the residual limit, if the
        kiln is too uneven for this one [m].
    """

    request: DesignRequest
    proposed: Computed
    compared: tuple[Computed, ...]
    why: tuple[Why, ...]
    evening: Evening
    soak_c: float
    bands_computed: int
    widest_m: float | None = None


def design(request: DesignRequest, told: Callable[[int], None] | None = None) -> Design:
    """Design the schedule with the fewest kiln hours within the limits.

    Parameters
    ----------
    request : DesignRequest
        Glass, slab, kiln, limits.
    told : callable or None
        Called with the number of bands computed so far before each one of the search;
        what it raises ends the design.

    Returns
    -------
    Design
        The schedule, fitted to the controller and computed as fitted, with its reasons
        and what the table would do. Only where the kiln is so uneven that it takes more
        than half a limit whatever is done is the proposal not within.

    Raises
    ------
    PhysicsProblem
        If the limits cannot be kept, the controller cannot be told the schedule, or the
        request is outside the model.

    Notes
    -----
    The anneal soak is the longest of: the table's (unless `floor` is None), the time
    for the difference through the slab to fall to 2 K, and the time for 20 K across it
    to fall to 2 K (both assumptions of this project, see `evening_out`). No rate is
    faster than the table's row for the thickness, unless `floor` is None.

    References
    ----------
    `heat_up`, `anneal_search`, `schedule.fit_to_controller`.
    """
    if request.uncertainty.other_boundary is None:
        other = exact_faces(request.boundary)
        request = replace(
            request, uncertainty=replace(request.uncertainty, other_boundary=other)
        )
    wanted = left_for_the_plate(request.limits, _likely_across(request))
    limits, tries = _with_spare(wanted), 0
    for _ in range(MOST_FITS):
        tight = replace(request, limits=limits)
        up = heat_up(tight)
        evening = _evening(tight, up)
        found = search_anneal(_problem(tight, evening), _counting_from(tries, told))
        tries += found.tries
        fitted = _fitted(request, up, found.anneal)
        proposed = compute(request, fitted, Rule.DESIGN, accuracy=FINE)
        plate = proposed.band.plate or proposed.band
        wanted = left_for_the_plate(request.limits, proposed.band.counted)
        if is_within(plate, wanted):
            return Design(
                request=request,
                proposed=proposed,
                compared=compare(request, up),
                why=reasons_of(
                    request, up, evening, found, proposed.schedule, proposed.band
                ),
                evening=evening,
                soak_c=found.anneal.soak_c,
                bands_computed=tries,
                widest_m=None if proposed.is_within else _widest_m(request, proposed),
            )
        limits = _tighter(limits, wanted, plate)
    raise PhysicsProblem(
        Cause.NO_SCHEDULE_TO_TELL, thickness=metres(request.thickness_m)
    )


def _likely_across(request: DesignRequest) -> AcrossBand | None:
    """Return what an uneven kiln adds to a slab that cools by the table's row."""
    if request.across is None or not request.across.is_counted:
        return None
    start_c = process_of(request).temperature_c
    segments = _joined(_typed(request, _anneal_of(request, table_rule(request))))
    schedule = Programme(
        start_c=shown_c(start_c, request.kiln_offset_k), segments=segments
    )
    curve = kiln_curve(schedule, request.kiln, until_c=ends_c(request))
    firing = replace(_whole_firing(request, curve), stack=None)
    return simulate_band(firing, request.uncertainty, COARSE, only=()).across


def _widest_m(request: DesignRequest, proposed: Computed) -> float | None:
    """Return how long a slab may be for the residual limit, None if that is kept."""
    band, across = proposed.band, request.across
    limit_pa = request.limits.residual_pa
    if band.plate is None or across is None:
        return None
    if band.residual_tension_pa.high <= limit_pa:
        return None
    return 2 * widest_radius_m(
        _whole_firing(request, proposed.curve),
        across,
        request.uncertainty.conductivity_share,
        allowed_pa=limit_pa - band.plate.residual_tension_pa.high,
    )


def _counting_from(
    tries: int, told: Callable[[int], None] | None
) -> Callable[[int], None] | None:
    if told is None:
        return None

    def tell(more: int) -> None:
        told(tries + more)

    return tell


def compute(
    request: DesignRequest,
    schedule: Programme,
    rule: Rule,
    *,
    row_m: float | None = None,
    accuracy: Accuracy = COARSE,
) -> Computed:
    """Compute what a schedule of the usual segments does to the glass.

    Parameters
    ----------
    request : DesignRequest
        Glass, slab, kiln, limits.
    schedule : Programme
        With a segment called "anneal soak".
    rule, row_m
        Where its anneal comes from.
    accuracy : Accuracy
        Nodes and steps.

    Raises
    ------
    PhysicsProblem
        If it has no anneal soak, or as `simulate`.

    References
    ----------
    `simulation`, `band`.
    """
    soak = next(
        (
            place
            for place, segment in enumerate(schedule.segments)
            if segment.label == "anneal soak"
        ),
        None,
    )
    if soak is None:
        raise PhysicsProblem(Cause.NO_SOAK_SEGMENT)
    opens_c = opens_below_c(request)
    curve = curve_until_out(
        schedule,
        request.kiln,
        _slab(request),
        ends_c=ends_c(request),
        opening_c=opens_c,
        kiln_offset_k=request.kiln_offset_k,
    )
    soak_ends_s = curve.segment_ends_s[soak]
    firing = taken_out(_whole_firing(request, curve), _room_c(request))
    firing = replace(
        firing,
        window_s=(soak_ends_s, float(firing.time_s[-1])),
        opening_c=opens_c + READY_WITHIN_K,
    )
    band = simulate_band(firing, request.uncertainty, accuracy, trace_slots=TRACE_SLOTS)
    soak_starts_s = soak_ends_s - schedule.segments[soak].hold_s
    return Computed(
        rule=rule,
        row_m=row_m,
        schedule=schedule,
        curve=curve,
        opens_c=opens_c,
        kiln_s=curve.lasts_s,
        anneal_s=curve.lasts_s - soak_starts_s,
        band=band,
        ready_s=_ready(band),
        is_within=is_within(band, request.limits),
    )


def opens_below_c(request: DesignRequest) -> float:
    """Return below what temperature of all the glass it may be taken out [°C].

    Parameters
    ----------
    request : DesignRequest
        What is wanted.

    References
    ----------
    `opening.opens_below_c`.
    """
    return opening.opens_below_c(_slab(request), request.opening_c, _room_c(request))


def ends_c(request: DesignRequest) -> float:
    """Return where the programme ends [°C].

    Parameters
    ----------
    request : DesignRequest
        What is wanted.

    Notes
    -----
    Where the glass may be taken out; lower in a kiln that would fall faster from there
    by itself than the rule lets the slab cool at the end.

    References
    ----------
    A kiln without power, `kiln.model`; own rule.
    """
    opens_c, kiln = opens_below_c(request), request.kiln
    if kiln is None:
        return opens_c
    falls_k = (
        table_rule(request).rates_c_per_h.final * kiln.cooling_time_constant_s / 3600
    )
    return min(opens_c, kiln.ambient_c + max(falls_k, LEAST_FALL_K))


def is_within(band: BandedResult, limits: Limits) -> bool:
    """Return whether the top of every band is within its limit.

    Parameters
    ----------
    band : BandedResult
        A firing.
    limits : Limits
        Temporary for heating and cooling, residual for what stays.

    References
    ----------
    None: a comparison.
    """
    return (
        band.heating_pa.high <= limits.temporary_pa
        and band.cooling_pa.high <= limits.temporary_pa
        and band.residual_tension_pa.high <= limits.residual_pa
    )


def compare(request: DesignRequest, up: HeatUp) -> tuple[Computed, ...]:
    """Compute the table's row, the next thicker one and the exact rule.

    Parameters
    ----------
    request : DesignRequest
        What is wanted.
    up : HeatUp
        The way up that all of them share.

    Returns
    -------
    tuple of Computed
        In this order; without the next row where the table has none. For enamel, which
        the table is not for, one: common practice.

    References
    ----------
    `annealing_table`.
    """
    if request.kind is Kind.ENAMEL:
        rows = [(Rule.TABLE_ROW, table_rule(request))]
    else:
        thickness_m = request.thickness_m
        rows = [(Rule.TABLE_ROW, row_at_or_above(thickness_m))]
        # As in `next_thicker_row`: from half-way between the last two there is none.
        if thickness_m < (ROWS[-2].thickness_m + ROWS[-1].thickness_m) / 2:
            rows.append((Rule.NEXT_ROW, next_thicker_row(thickness_m)))
        rows.append((Rule.EXACT, exact_rule(thickness_m)))
    return tuple(_of_rule(request, up, rule, row) for rule, row in rows)


def _of_rule(
    request: DesignRequest, up: HeatUp, rule: Rule, row: AnnealRow
) -> Computed:
    cooling = _typed(request, _anneal_of(request, row))
    schedule = Programme(
        start_c=request.start_c, segments=(*up.segments, *_joined(cooling))
    )
    row_m = None if rule is Rule.EXACT else row.thickness_m
    return compute(request, schedule, rule, row_m=row_m)


def _anneal_of(request: DesignRequest, row: AnnealRow) -> Anneal:
    return Anneal(
        soak_c=first_soak_c(request),
        soak_s=row.soak_s,
        drop_c_per_h=None,
        rates_c_per_h=row.rates_c_per_h,
    )


def _evening(request: DesignRequest, up: HeatUp) -> Evening:
    soak_c = first_soak_c(request)
    typed_c = shown_c(soak_c, request.kiln_offset_k)
    schedule = Programme(
        start_c=request.start_c,
        segments=(
            *up.segments,
            Segment(label="anneal soak", rate_c_per_h=None, target_c=typed_c),
        ),
    )
    curve = kiln_curve(schedule, request.kiln, until_c=typed_c)
    reached_s = curve.lasts_s
    base = _whole_firing(request, curve)
    long_s = LONG * slow_time_s(base, request.uncertainty, soak_c)
    *rest, soak = schedule.segments
    held = replace(schedule, segments=(*rest, replace(soak, hold_s=long_s)))
    return time_until_even_s(
        _whole_firing(request, kiln_curve(held, request.kiln, until_c=typed_c)),
        request.uncertainty,
        soak_c=soak_c,
        after_s=reached_s,
    )


def _slab(request: DesignRequest) -> Slab:
    return Slab(
        glass=request.glass,
        thickness_m=request.thickness_m,
        boundary=request.boundary,
        temporary_pa=request.limits.temporary_pa,
        conductivity_share=request.uncertainty.conductivity_share,
    )


def _room_c(request: DesignRequest) -> float:
    return ROOM_C if request.kiln is None else request.kiln.ambient_c


def _whole_firing(request: DesignRequest, curve: KilnCurve) -> SlabFiring:
    return SlabFiring(
        glass=request.glass,
        thickness_m=request.thickness_m,
        boundary=request.boundary,
        bending=request.bending,
        time_s=curve.time_s,
        kiln_c=true_c(curve.temperature_c, request.kiln_offset_k),
        stack=stack_of(request),
        opening_c=request.opening_c,
        across=request.across,
    )


def _problem(request: DesignRequest, evening: Evening) -> AnnealProblem:
    rule = table_rule(request)
    floor = None if request.floor is None else rule
    controller = request.controller
    soak_s = max(evening.through_s, evening.across_s, floor.soak_s if floor else 0.0)
    return AnnealProblem(
        glass=request.glass,
        thickness_m=request.thickness_m,
        boundary=request.boundary,
        bending=request.bending,
        uncertainty=request.uncertainty,
        limits=request.limits,
        process_c=process_of(request).temperature_c,
        soak_c=first_soak_c(request),
        may_raise_soak=request.soak_c is None,
        soak_s=soak_s,
        opening_c=ends_c(request),
        kiln=request.kiln,
        slowest_c_per_h=controller.slowest_c_per_h,
        fastest_c_per_h=controller.fastest_c_per_h,
        step_c_per_h=controller.step_c_per_h,
        floor=floor,
        kiln_offset_k=request.kiln_offset_k,
    )


def _fitted(request: DesignRequest, up: HeatUp, anneal: Anneal) -> Programme:
    controller = request.controller
    exact = Programme(
        start_c=request.start_c,
        segments=(
            *up.segments,
            *_joined(_typed(request, anneal)),
        ),
    )
    fitted = fit_to_controller(
        exact,
        unit=controller.unit,
        segments_available=controller.segments_available,
        slowest_c_per_h=controller.slowest_c_per_h,
        fastest_c_per_h=controller.fastest_c_per_h,
        rate_step=controller.rate_step,
    )
    return replace(fitted, segments=_joined(fitted.segments))


def _typed(request: DesignRequest, anneal: Anneal) -> tuple[Segment, ...]:
    return anneal.segments(
        opening_c=ends_c(request), kiln_offset_k=request.kiln_offset_k
    )


def _joined(segments: tuple[Segment, ...]) -> tuple[Segment, ...]:
    """Join cooling stages that run on at the same rate; the later one's name stays."""
    kept: list[Segment] = []
    for segment in segments:
        before = kept[-1] if kept else None
        if (
            before is not None
            and before.label.startswith("cooling")
            and before.rate_c_per_h == segment.rate_c_per_h
            and not before.hold_s
        ):
            kept.pop()
        kept.append(segment)
    return tuple(kept)


def _with_spare(limits: Limits) -> Limits:
    return replace(
        limits,
        temporary_pa=max(limits.temporary_pa * ROOM_FOR_STEPS, LEAST_PA),
        residual_pa=max(limits.residual_pa * ROOM_FOR_STEPS, LEAST_PA),
    )


def _tighter(tight: Limits, wanted: Limits, band: BandedResult) -> Limits:
    """Return tighter limits to search by, so that the fitted schedule meets the real
    ones.
    """
    temporary_pa = max(band.heating_pa.high, band.cooling_pa.high)
    residual_pa = band.residual_tension_pa.high
    temporary = min(1.0, SPARE * wanted.temporary_pa / temporary_pa)
    residual = min(1.0, SPARE * wanted.residual_pa / max(residual_pa, 1.0))
    return replace(
        tight,
        temporary_pa=tight.temporary_pa * temporary,
        residual_pa=min(tight.residual_pa * residual, tight.temporary_pa * temporary),
    )


def _ready(band: BandedResult) -> Band | None:
    times = [result.cool_since_s for _, result in band.cases]
    known = [time_s for time_s in times if time_s is not None]
    if len(known) < len(times):
        return None
    return Band(low=min(known), middle=known[0], high=max(known))
