"""What a recorded firing did to its glass, compared with the limits.

`recorded` cleans the readings, `plan_following` compares them with a plan and `in_turn`
with each that the controller was told; `what_next` says what to do after a fault.
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from firing.physics.designing.band import (
    Band,
    BandedResult,
    Envelope,
    Uncertainty,
    merged,
    simulate_band,
)
from firing.physics.glass.properties import Glass
from firing.physics.judging.bridging import WARM_C, bridges
from firing.physics.judging.in_turn import TypedAt, follow_typed, in_force
from firing.physics.judging.plan_following import (
    Fault,
    FaultKind,
    Followed,
)
from firing.physics.judging.wrong_unit import check_unit
from firing.physics.kiln.broken import pace_of
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.opening import READY_WITHIN_K, cooled_until, taken_out
from firing.physics.kiln.recorded import (
    LONGEST_GAP_S,
    FilteredReadings,
    Gap,
    clean_readings,
)
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.physics.refusals import Cause, celsius
from firing.physics.schedule import FloatArray, PhysicsProblem, Programme
from firing.physics.slab.input import Accuracy, Across, LooseStack, SlabFiring
from firing.physics.slab.result import Trace
from firing.physics.slab.surroundings import TOP_ONLY_FILM, Bending, Boundary

# Band and noise are not known better than this share of a limit: a limit counts as
# exceeded when it is exceeded by more.
TOLERANCE = 0.03
# Colder than this under its annealing point the glass keeps whatever stress it has.
FROZEN_BELOW_K = 150.0
# Readings that begin colder than this are a start from cold.
COLD_C = 150.0
# A firing that stayed this far under its plan was not what it was to be [K], own rule.
SHORT_OF_PLAN_K = 25.0
# A kiln that kept this much of a hold of the cooling is past its hottest, own rule.
KEPT_SHARE = 0.5
# A kiln this far under its hottest is on its way down [K].
FALLEN_K = 50.0
TRACE_SLOTS = 1500
ACCURACY = Accuracy(nodes=17)


class LimitStanding(StrEnum):
    """Where a band lies relative to its limit."""

    WITHIN = "within"
    PERHAPS = "perhaps over"
    OVER = "over"
    WARNING = "over the warning"


class Verdict(StrEnum):
    """What the firing means for the piece."""

    WITHIN = "within the limits"
    STILL_HOT = "not over yet"
    UNSURE = "readings are missing where they matter"
    CHECK = "perhaps over a limit"
    TENSION_OVER = "tension was over the limit"
    NOT_FUSED = "did not become one slab"
    NOT_HOT = "did not get hot enough"
    RE_ANNEAL = "must be annealed again"
    NOT_TO_SAVE = "over a limit whatever is done"
    MAY_HAVE_CRACKED = "may have cracked"


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgeRequest:
    """A recorded firing and what is known of it.

    Attributes
    ----------
    time_s, temperature_c : ndarray, shape (n,)
        Readings [s, °C]; times never decrease.
    glass, thickness_m, bending
        As in `SlabFiring`.
    boundary : Boundary
        What the faces see. Faces with films take the noise of readings; faces at kiln
        temperature turn each kelvin of noise into 0.8 MPa.
    planned : Programme or None
        What was asked for.
    typed : tuple of TypedAt
        What was typed while it ran instead of the rest of the plan, in order of time.
    kiln : KilnModel or None
        How the kiln cools by itself and heats at full power: what it may have done
        while nothing was read.
    unloaded_s : float or None
        When the slab was taken out [s], on the clock of the readings: from then on the
        firing is over, whatever they say. Until then the kiln cooled by itself from its
        last reading, and from then on the glass is in the room. A kiln above 150 °C is
        not believed to have been unloaded. None if it is still in there.
    limits : Limits
        What the bands are held against.
    kiln_offset_k : float
        How much hotter the kiln is than it shows [K], see `offset`. Readings and
        the plan are what is shown.
    uncertainty : Uncertainty
        What the bands are over.
    stack : LooseStack or None
        Sheets that were loose at the start; None for one slab.
    opening_c : float
        Where glass may be looked at [°C].
    longest_gap_s : float
        Longest time without readings that is bridged in silence [s].
    across : Across or None
        How uneven the kiln is over the slab; None is an even kiln.
    """

    time_s: FloatArray
    temperature_c: FloatArray
    glass: Glass
    thickness_m: float
    boundary: Boundary = TOP_ONLY_FILM
    bending: Bending = Bending.FREE
    planned: Programme | None = None
    typed: tuple[TypedAt, ...] = ()
    kiln: KilnModel | None = None
    unloaded_s: float | None = None
    limits: Limits = DEFAULT_LIMITS
    kiln_offset_k: float = 0.0
    uncertainty: Uncertainty = field(default_factory=Uncertainty)
    stack: LooseStack | None = None
    opening_c: float = 50.0
    longest_gap_s: float = LONGEST_GAP_S
    across: Across | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedFiring:
    """What a firing did to its glass.

    Attributes
    ----------
    request : JudgeRequest
        What was judged.
    record : FilteredReadings
        The readings as used; all times below count from the first of them.
    firing : SlabFiring
        The firing that was computed, straight across gaps in the readings, until the
        last of them.
    bridged : tuple of SlabFiring
        The same with the worst that the kiln may have done in those gaps, and with
        readings that are doubtful.
    band : BandedResult
        The stresses of all of these; its middle is straight across.
    history : Trace
        Kiln, glass and largest tension over time, for a chart.
    envelope : Envelope
        The band of that tension over time; it has the history's moments and some more.
    in_force : Programme or None
        What the controller was told last: the plan, or what was typed since.
    followed : Followed or None
        How it followed the plan, if there was one.
    faults : tuple of Fault
        Gaps, and what the plan shows, in order of time.
    temporary, residual : LimitStanding
        How the bands stand to their limits. The residual one supposes that the last
        temperature is kept until the slab is even, and counts once `is_frozen`.
    verdict : Verdict
        The worst that is true of it.
    is_frozen : bool
        Whether all the glass is so cold that its stress stays.
    is_certain : bool
        False if what the kiln did while nothing was read decides how the bands stand.
    is_over : bool
        Whether the kiln is past its hottest and all the glass is cold: what there is
        now stays.
    is_on_its_way_up : bool
        Whether the kiln still has to get to the hottest part of its plan.
    is_joined : bool
        False if sheets never became one slab.
    is_surely_joined : bool
        Whether they became one in every case of the band.
    hottest_c : float
        The hottest that the kiln was [°C].
    glass_now_c : tuple of 3 floats
        Bottom, middle and top at the last reading [°C].
    shown_now_c : float
        What the kiln showed at the last reading [°C].
    ready_s : Band or None
        When all the glass was within 2 K of the opening temperature, which may be
        after the last reading if the kiln stays as it is [s]; None if it never is.
    """

    request: JudgeRequest
    record: FilteredReadings
    firing: SlabFiring
    bridged: tuple[SlabFiring, ...]
    band: BandedResult
    history: Trace
    envelope: Envelope
    in_force: Programme | None
    followed: Followed | None
    faults: tuple[Fault, ...]
    temporary: LimitStanding
    residual: LimitStanding
    verdict: Verdict
    is_frozen: bool
    is_certain: bool
    is_over: bool
    is_on_its_way_up: bool
    is_joined: bool
    is_surely_joined: bool
    hottest_c: float
    glass_now_c: tuple[float, float, float]
    shown_now_c: float
    ready_s: Band | None


def judge(request: JudgeRequest) -> JudgedFiring:
    """Compute what a recorded firing did to its glass.

    Parameters
    ----------
    request : JudgeRequest
        Readings, glass, slab, limits.

    Returns
    -------
    JudgedFiring
        Bands, faults, verdict, history.

    Raises
    ------
    PhysicsProblem
        If the readings cannot be used, follow the plan in another unit, begin hot but
        not hot enough for the glass to have forgotten its past, or the slab is outside
        the model.

    Notes
    -----
    Readings that begin where even the stiffest glass of the band is free of stress are
    taken as glass of one temperature. A limit is passed when it is passed by more than
    3 %, which is what noise and steps may be wrong by.

    References
    ----------
    `recorded`, `simulation`, `band`.
    """
    record = _record(request, request.kiln_offset_k)
    # A plan is what was typed: it is followed, or not, by what the kiln shows.
    shown = _record(request, 0.0)
    if request.planned is not None:
        check_unit(
            shown,
            request.time_s,
            request.temperature_c,
            request.planned,
            request.kiln,
        )
    firing = _firing(request, record)
    ways = bridges(record.curve, record.gaps, request.kiln)
    if record.believed is not None:
        ways = (*ways, record.believed)
    bridged = tuple(
        replace(firing, time_s=curve.time_s, kiln_c=curve.temperature_c)
        for curve in ways
    )
    straight, band = banded(
        tuple(_until_out(request, record, one) for one in (firing, *bridged)),
        request.uncertainty,
        ACCURACY,
        trace_slots=TRACE_SLOTS,
    )
    middle = band.middle
    if middle.trace is None or band.envelope is None:
        raise PhysicsProblem(Cause.READINGS_TOO_SHORT)
    told, followed = None, None
    if request.planned is not None:
        told = in_force(shown, request.planned, request.typed)
        followed = follow_typed(shown, request.planned, request.typed)
    faults = (
        *with_gaps(
            tuple(missing(FaultKind.GAP, gap) for gap in shown.gaps),
            followed.faults if followed else (),
        ),
        *(missing(FaultKind.DOUBTFUL, span) for span in shown.doubtful),
        *(missing(FaultKind.THERMOCOUPLE, span) for span in shown.broken),
    )
    now_c = (middle.end_bottom_c, middle.end_middle_c, middle.end_top_c)
    is_frozen = max(now_c) <= request.glass.annealing_point_c - FROZEN_BELOW_K
    hottest_c = float(record.curve.temperature_c.max())
    is_on_its_way_up = _is_on_its_way_up(request, told, followed, shown)
    is_over = (
        is_frozen and record.last_c < hottest_c - FALLEN_K and not is_on_its_way_up
    )
    is_joined = middle.joined_at_s is not None
    temporary, residual = _standings(band, request.limits)
    straight_temporary, straight_residual = _standings(straight, request.limits)
    # What stays counts once it is there.
    is_certain = temporary is straight_temporary and (
        not is_over or residual is straight_residual
    )
    short_k = request.planned.peak_c - shown.hottest_c if request.planned else 0.0
    return JudgedFiring(
        request=request,
        record=record,
        firing=firing,
        bridged=bridged,
        band=band,
        history=middle.trace,
        envelope=band.envelope,
        in_force=told,
        followed=followed,
        faults=tuple(sorted(faults, key=lambda fault: fault.start_s)),
        temporary=temporary,
        residual=residual,
        verdict=_verdict(
            temporary,
            residual,
            is_over=is_over,
            is_certain=is_certain and (is_frozen or not record.is_broken_at_the_end),
            is_joined=is_joined,
            is_relaxed=hottest_c >= request.glass.annealing_point_c,
            is_as_hot_as_planned=short_k <= SHORT_OF_PLAN_K,
        ),
        is_frozen=is_frozen,
        is_certain=is_certain,
        is_over=is_over,
        is_on_its_way_up=is_on_its_way_up,
        is_joined=is_joined,
        is_surely_joined=all(
            result.joined_at_s is not None for _, result in band.cases
        ),
        hottest_c=hottest_c,
        glass_now_c=now_c,
        shown_now_c=shown.last_c,
        ready_s=_ready(band),
    )


def stand(band: Band, limit_pa: float, warning_pa: float) -> LimitStanding:
    """Return where a band of tension lies relative to a limit.

    Parameters
    ----------
    band : Band
        Tension [Pa].
    limit_pa, warning_pa : float
        The limit, and the warning above it [Pa].

    Notes
    -----
    Within: the top is under it. Over: the middle is over it. Over the warning: the
    middle is over that.

    References
    ----------
    None: comparisons, with the tolerance named at the top of this module.
    """
    limit = limit_pa * (1 + TOLERANCE)
    if band.middle > warning_pa * (1 + TOLERANCE):
        return LimitStanding.WARNING
    if band.middle > limit:
        return LimitStanding.OVER
    return LimitStanding.PERHAPS if band.high > limit else LimitStanding.WITHIN


def _firing(request: JudgeRequest, record: FilteredReadings) -> SlabFiring:
    hottest_c = float(record.curve.temperature_c.max())
    if hottest_c < WARM_C:
        raise PhysicsProblem(Cause.NEVER_HOT, hottest=celsius(round(hottest_c, 0)))
    start_c = float(record.curve.temperature_c[0])
    relaxed_c = (
        request.glass.annealing_point_c + request.uncertainty.annealing_point_up_k
    )
    if COLD_C < start_c < relaxed_c:
        raise PhysicsProblem(
            Cause.UNKNOWN_PAST,
            start=celsius(round(start_c, 0)),
            relaxed=celsius(round(relaxed_c, 0)),
        )
    return SlabFiring(
        glass=request.glass,
        thickness_m=request.thickness_m,
        boundary=request.boundary,
        bending=request.bending,
        time_s=record.curve.time_s,
        kiln_c=record.curve.temperature_c,
        stack=request.stack if start_c <= COLD_C else None,
        opening_c=request.opening_c + READY_WITHIN_K,
        across=request.across,
    )


def _until_out(
    request: JudgeRequest, record: FilteredReadings, firing: SlabFiring
) -> SlabFiring:
    """Return the firing with its slab in the room, if it was taken out."""
    if request.unloaded_s is None:
        return firing
    time_s, kiln_c = cooled_until(
        firing.time_s,
        firing.kiln_c,
        request.kiln,
        request.unloaded_s - record.starts_s,
    )
    if kiln_c[-1] > COLD_C:
        return firing
    return taken_out(replace(firing, time_s=time_s, kiln_c=kiln_c))


def banded(
    firings: tuple[SlabFiring, ...],
    uncertainty: Uncertainty,
    accuracy: Accuracy,
    *,
    trace_slots: int,
) -> tuple[BandedResult, BandedResult]:
    """Return the band of the first firing, and of all that it may have been.

    Parameters
    ----------
    firings : tuple of SlabFiring
        Straight across gaps in the readings, then each other way.
    uncertainty, accuracy, trace_slots
        As in `simulate_band`.

    References
    ----------
    `bridging`.
    """
    bands = tuple(
        simulate_band(one, uncertainty, accuracy, trace_slots=trace_slots)
        for one in firings
    )
    return bands[0], merged(bands, ("a gap in the readings",) * (len(bands) - 1))


def _record(request: JudgeRequest, offset_k: float) -> FilteredReadings:
    return clean_readings(
        request.time_s,
        request.temperature_c,
        offset_k=offset_k,
        longest_gap_s=request.longest_gap_s,
        pace=pace_of(request.kiln),
    )


def _is_on_its_way_up(
    request: JudgeRequest,
    told: Programme | None,
    followed: Followed | None,
    shown: FilteredReadings,
) -> bool:
    """Return whether the kiln still has to get to the hottest part of what it was told.

    A kiln that is cold again, has kept a hold of the cooling, or is unloaded, is not
    going to.
    """
    if told is None or followed is None or request.unloaded_s is not None:
        return False
    segments = told.segments
    hottest = max(range(len(segments)), key=lambda place: segments[place].target_c)
    if followed.done > hottest or _hottest_since(request, shown) < (
        shown.last_c + FALLEN_K
    ):
        return followed.done <= hottest
    cooling = {one.label for one in segments[hottest + 1 :] if one.hold_s}
    is_cooling = any(
        hold.held_s > KEPT_SHARE * hold.planned_s
        for hold in followed.holds
        if hold.segment in cooling
    )
    return shown.last_c > request.opening_c and not is_cooling


def _hottest_since(request: JudgeRequest, shown: FilteredReadings) -> float:
    """Return the hottest that the kiln was since it was told something last [°C]."""
    if not request.typed:
        return shown.hottest_c
    since = shown.curve.time_s >= request.typed[-1].at_s - shown.starts_s
    return float(np.max(shown.curve.temperature_c[since], initial=shown.last_c))


def _standings(
    band: BandedResult, limits: Limits
) -> tuple[LimitStanding, LimitStanding]:
    """Return how temporary and residual tension stand to their limits."""
    greater = Band(
        low=max(band.heating_pa.low, band.cooling_pa.low),
        middle=max(band.heating_pa.middle, band.cooling_pa.middle),
        high=max(band.heating_pa.high, band.cooling_pa.high),
    )
    return (
        stand(greater, limits.temporary_pa, limits.warning_pa),
        stand(band.residual_tension_pa, limits.residual_pa, limits.warning_pa),
    )


def missing(kind: FaultKind, gap: Gap) -> Fault:
    """Return a time without usable readings as a fault of that kind."""
    return Fault(
        kind=kind,
        segment="",
        start_s=gap.start_s,
        end_s=gap.end_s,
        start_c=gap.start_c,
        end_c=gap.end_c,
        amount=gap.end_s - gap.start_s,
    )


def with_gaps(gaps: tuple[Fault, ...], faults: tuple[Fault, ...]) -> tuple[Fault, ...]:
    """Return all of them, and a cut of which the logger missed a part as one event."""
    found = list(faults)
    for gap in gaps:
        cuts = [
            one
            for one in found
            if one.kind is FaultKind.CUT
            and one.start_s <= gap.end_s
            and gap.start_s <= one.end_s
        ]
        if not cuts:
            found.append(gap)
            continue
        found = [one for one in found if one not in cuts]
        first = min((gap, *cuts), key=lambda one: one.start_s)
        last = max((gap, *cuts), key=lambda one: one.end_s)
        found.append(
            replace(
                cuts[0],
                start_s=first.start_s,
                end_s=last.end_s,
                start_c=first.start_c,
                end_c=last.end_c,
                amount=first.start_c - last.end_c,
            )
        )
    return tuple(found)


def _verdict(
    temporary: LimitStanding,
    residual: LimitStanding,
    *,
    is_over: bool,
    is_certain: bool,
    is_joined: bool,
    is_relaxed: bool,
    is_as_hot_as_planned: bool,
) -> Verdict:
    if LimitStanding.WARNING in (temporary, residual if is_over else temporary):
        return Verdict.MAY_HAVE_CRACKED
    if is_over and not is_joined:
        return Verdict.NOT_FUSED
    if is_over and not is_relaxed:
        return Verdict.NOT_HOT
    if is_over and residual is LimitStanding.OVER:
        return Verdict.RE_ANNEAL
    if temporary is LimitStanding.OVER:
        return Verdict.TENSION_OVER
    if not is_certain:
        return Verdict.UNSURE
    if is_over and not is_as_hot_as_planned:
        return Verdict.NOT_HOT
    if LimitStanding.PERHAPS in (temporary, residual if is_over else temporary):
        return Verdict.CHECK
    return Verdict.WITHIN if is_over else Verdict.STILL_HOT


def _ready(band: BandedResult) -> Band | None:
    times = [result.cool_since_s for _, result in band.cases]
    known = [time_s for time_s in times if time_s is not None]
    if len(known) < len(times):
        return None
    return Band(low=min(known), middle=known[0], high=max(known))
