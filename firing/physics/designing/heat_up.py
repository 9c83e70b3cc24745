"""The way up: how fast cold glass may be heated, and how long the process must hold.

Temperatures and first rates are the common practice of `programmes`; here they are
slowed or lengthened where the glass needs it.
"""

from dataclasses import dataclass, replace

from firing.physics.designing.band import Corners, simulate_band
from firing.physics.designing.evening_out import slow_time_s, time_until_warm_s
from firing.physics.designing.programmes import (
    PROCESS_RATE_C_PER_H,
    SQUEEZE_C,
    SQUEEZE_HOLD_PER_MM_S,
    SQUEEZE_HOLD_S,
    STACK_FASTEST_C_PER_H,
    stack_heating_rate_c_per_h,
)
from firing.physics.designing.request import (
    STACKS,
    DesignRequest,
    Kind,
    process_of,
    relaxed_c,
)
from firing.physics.glass.viscosity import as_soft_as_ninety, joins_c
from firing.physics.kiln.curve import kiln_curve
from firing.physics.kiln.offset import shown_c, true_c
from firing.physics.refusals import Cause, celsius, metres, pascals
from firing.physics.schedule import PhysicsProblem, Programme, Segment
from firing.physics.slab.input import Accuracy, LooseStack, SlabFiring

COARSE = Accuracy(nodes=13)
CLOSE = 0.03
MOST_TRIES = 10
LARGEST_CHANGE = 4.0
SLOWEST_C_PER_H = 0.5
# Long enough for any glass to come within a thousandth of its kiln.
LONG = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatUp:
    """The way up.

    Attributes
    ----------
    segments : tuple of Segment
        Up to the end of the process.
    rate_c_per_h : float
        Rate of cold glass [°C/h].
    practice_c_per_h : float
        Fastest rate by common practice [°C/h].
    practice_hold_s, warm_hold_s : float
        Hold by common practice, and until the glass furthest from the heat has fused
        or lost its stress [s]; the longer is in the segments.
    """

    segments: tuple[Segment, ...]
    rate_c_per_h: float
    practice_c_per_h: float
    practice_hold_s: float
    warm_hold_s: float


def heat_up(request: DesignRequest) -> HeatUp:
    """Return the fastest way up whose tension stays within the limit in the whole band.

    Parameters
    ----------
    request : DesignRequest
        What is wanted; its uncertainty as it is to be used.

    Returns
    -------
    HeatUp
        Loose sheets: up to the bubble squeeze and on to the process. One slab: to the
        process at one rate.

    Raises
    ------
    PhysicsProblem
        If no rate keeps within the limit, or the glass does not get warm through.

    References
    ----------
    Rates and holds: `programmes`, common practice without a source. Tension:
    `simulation`.
    """
    practice = _practice_rate(request)
    rate = _fastest(request, practice)
    process = process_of(request)
    warm_s = _warm_hold_s(request, rate)
    return HeatUp(
        segments=_segments(request, rate, max(process.hold_s, warm_s)),
        rate_c_per_h=rate,
        practice_c_per_h=practice,
        practice_hold_s=process.hold_s,
        warm_hold_s=warm_s,
    )


def stack_of(request: DesignRequest) -> LooseStack | None:
    """Return the loose sheets that a firing starts from, if it does.

    Parameters
    ----------
    request : DesignRequest
        What is wanted.

    References
    ----------
    `slab.input.LooseStack`.
    """
    if request.kind not in STACKS or request.thickness_m < 2 * request.sheet_m:
        return None
    return LooseStack(sheet_m=request.sheet_m, joins_c=joins_c(request.glass))


def _practice_rate(request: DesignRequest) -> float:
    if request.kind in STACKS:
        return stack_heating_rate_c_per_h(request.thickness_m)
    return STACK_FASTEST_C_PER_H


def _segments(
    request: DesignRequest, rate_c_per_h: float, hold_s: float
) -> tuple[Segment, ...]:
    process_c = process_of(request).temperature_c
    label = "heat-up" if request.kind is Kind.RE_ANNEAL else str(request.kind)
    process = Segment(
        label=label,
        rate_c_per_h=rate_c_per_h,
        target_c=shown_c(process_c, request.kiln_offset_k),
        hold_s=hold_s,
    )
    if request.kind not in STACKS:
        return (process,)
    squeeze_c = as_soft_as_ninety(request.glass, SQUEEZE_C)
    squeeze = Segment(
        label="bubble squeeze",
        rate_c_per_h=rate_c_per_h,
        target_c=shown_c(squeeze_c, request.kiln_offset_k),
        hold_s=SQUEEZE_HOLD_S + SQUEEZE_HOLD_PER_MM_S * request.thickness_m * 1000,
    )
    if process_c <= squeeze_c:
        raise PhysicsProblem(
            Cause.PROCESS_BELOW_SQUEEZE,
            process=celsius(process_c),
            squeeze=celsius(squeeze_c),
        )
    return (squeeze, replace(process, rate_c_per_h=PROCESS_RATE_C_PER_H))


def _firing(request: DesignRequest, segments: tuple[Segment, ...]) -> SlabFiring:
    schedule = Programme(start_c=request.start_c, segments=segments)
    hottest_c = segments[-1].target_c
    curve = kiln_curve(schedule, request.kiln, until_c=hottest_c)
    return SlabFiring(
        glass=request.glass,
        thickness_m=request.thickness_m,
        boundary=request.boundary,
        bending=request.bending,
        time_s=curve.time_s,
        kiln_c=true_c(curve.temperature_c, request.kiln_offset_k),
        stack=stack_of(request),
        settle=False,
    )


def _fastest(request: DesignRequest, practice: float) -> float:
    """Scale the rate until the band's top is just under the limit, or at practice's."""
    limit_pa = request.limits.temporary_pa
    if request.heating_limit_pa is not None:
        limit_pa = min(limit_pa, request.heating_limit_pa)
    rate, kept = practice, 0.0
    only: Corners | None = None
    for _ in range(MOST_TRIES):
        firing = _firing(request, _segments(request, rate, 0.0))
        band = simulate_band(firing, request.uncertainty, COARSE, only=only)
        # What raises the tension at one rate raises it at another.
        only = only or band.tops
        peak_pa = max(band.heating_pa.high, 1.0)
        if peak_pa <= limit_pa:
            kept = max(kept, rate)
            if rate == practice or peak_pa >= (1 - CLOSE) * limit_pa:
                break
        wanted = (1 - CLOSE / 2) * limit_pa / peak_pa
        factor = min(max(wanted, 1 / LARGEST_CHANGE), LARGEST_CHANGE)
        rate = min(max(rate * factor, SLOWEST_C_PER_H), practice)
    if not kept:
        raise PhysicsProblem(
            Cause.NO_HEAT_UP,
            thickness=metres(request.thickness_m),
            limit=pascals(limit_pa),
        )
    return kept


def _warm_hold_s(request: DesignRequest, rate: float) -> float:
    stack = stack_of(request)
    at_least_c = stack.joins_c if stack else relaxed_c(request)
    process_c = process_of(request).temperature_c
    base = _firing(request, _segments(request, rate, 0.0))
    long_s = LONG * slow_time_s(base, request.uncertainty, process_c)
    trial = _firing(request, _segments(request, rate, long_s))
    return time_until_warm_s(
        trial,
        request.uncertainty,
        at_least_c=at_least_c,
        after_s=float(base.time_s[-1]),
    )
