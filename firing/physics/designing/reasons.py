"""Why a designed schedule is as it is: what governs each of its segments."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from firing.physics.designing.anneal_search import FoundAnneal
from firing.physics.designing.band import BandedResult
from firing.physics.designing.evening_out import Evening
from firing.physics.designing.heat_up import HeatUp
from firing.physics.designing.request import DesignRequest, first_soak_c, table_rule
from firing.physics.kiln.curve import UNKNOWN_KILN_C_PER_H
from firing.physics.schedule import Programme


class Reason(StrEnum):
    """Why a part of a schedule is as it is: what stopped it from being faster."""

    PRACTICE = "common practice"
    HEATING_TENSION = "tension while heating"
    WARM_THROUGH = "the far side must get warm"
    TABLE_ROW = "the table's row"
    EVEN_THROUGH = "evening out through the thickness"
    EVEN_ACROSS = "evening out across the slab"
    SOAK_RAISED = "a hotter soak takes less time"
    DROP_TENSION = "tension on the way to the soak"
    STAGES_LOWERED = "the glass stiffens below the table's stages"
    RESIDUAL = "the residual limit"
    TEMPORARY = "the temporary limit"
    KILN = "the fastest that kiln and controller can"


class SegmentPart(StrEnum):
    """The part of a segment a reason is about."""

    RATE = "rate"
    HOLD = "hold"
    TARGET = "target"


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """Why one segment is as it is.

    Attributes
    ----------
    segment : str
        The segment's label.
    part : SegmentPart
        What of it.
    reason : Reason
        What governs it.
    amount : float
        Of a rate, what governs it: that rate [°C/h] for PRACTICE, TABLE_ROW, KILN and
        DROP_TENSION; the top of the band [Pa] for HEATING_TENSION, RESIDUAL and
        TEMPORARY. Of a hold, its length by that reason [s]. Of a target, how far it was
        moved [K].
    """

    segment: str
    part: SegmentPart
    reason: Reason
    amount: float


def reasons_of(
    request: DesignRequest,
    up: HeatUp,
    evening: Evening,
    found: FoundAnneal,
    schedule: Programme,
    band: BandedResult,
) -> tuple[Why, ...]:
    """Return why each part of a schedule is as it is.

    Parameters
    ----------
    request : DesignRequest
        What was wanted.
    up, evening, found
        The way up, how long the soak must be, and the anneal that the search found.
    schedule, band
        The schedule as fitted, and what it does.

    References
    ----------
    None: a comparison of each number with what bounds it.
    """
    is_slowed = up.rate_c_per_h < up.practice_c_per_h
    is_longer = up.warm_hold_s > up.practice_hold_s
    why = [
        Why(
            segment=up.segments[0].label,
            part=SegmentPart.RATE,
            reason=Reason.HEATING_TENSION if is_slowed else Reason.PRACTICE,
            amount=band.heating_pa.high if is_slowed else up.rate_c_per_h,
        ),
        Why(
            segment=up.segments[-1].label,
            part=SegmentPart.HOLD,
            reason=Reason.WARM_THROUGH if is_longer else Reason.PRACTICE,
            amount=max(up.warm_hold_s, up.practice_hold_s),
        ),
        *_soak_reasons(request, evening, found),
    ]
    labels = {segment.label for segment in schedule.segments}
    return (
        *why,
        *(
            each
            for each in _cooling_reasons(request, found, band)
            if each.segment in labels
        ),
    )


def _soak_reasons(
    request: DesignRequest, evening: Evening, found: FoundAnneal
) -> Iterator[Why]:
    label, anneal = "anneal soak", found.anneal
    hold_s, reason = max(
        (evening.through_s, Reason.EVEN_THROUGH),
        (evening.across_s, Reason.EVEN_ACROSS),
        (table_rule(request).soak_s if request.floor else 0.0, Reason.TABLE_ROW),
    )
    yield Why(segment=label, part=SegmentPart.HOLD, reason=reason, amount=hold_s)
    raised_k = anneal.soak_c - first_soak_c(request)
    if raised_k > 0:
        yield Why(
            segment=label,
            part=SegmentPart.TARGET,
            reason=Reason.SOAK_RAISED,
            amount=raised_k,
        )
    if anneal.drop_c_per_h is not None:
        yield Why(
            segment=label,
            part=SegmentPart.RATE,
            reason=Reason.DROP_TENSION,
            amount=anneal.drop_c_per_h,
        )
    lowered_k = anneal.deeper_k - (raised_k if request.floor else 0.0)
    if lowered_k > 0:
        yield Why(
            segment="cooling 1",
            part=SegmentPart.TARGET,
            reason=Reason.STAGES_LOWERED,
            amount=lowered_k,
        )


def _cooling_reasons(
    request: DesignRequest, found: FoundAnneal, band: BandedResult
) -> list[Why]:
    rates = found.anneal.rates_c_per_h
    row = table_rule(request).rates_c_per_h if request.floor else (float("inf"),) * 3
    fastest = request.controller.fastest_c_per_h
    if request.kiln is None:
        fastest = min(fastest, UNKNOWN_KILN_C_PER_H)
    step = request.controller.step_c_per_h
    residual_pa = band.residual_tension_pa.high
    temporary_pa = band.window_pa.high
    shares = (
        residual_pa / request.limits.residual_pa,
        temporary_pa / request.limits.temporary_pa,
    )
    # Early stages set the residual, the final one the temporary tension; otherwise
    # what is much closer to its limit.
    by_residual = (shares[0] > 0.8, shares[0] > 0.8, shares[0] - shares[1] > 0.2)
    why = []
    for place, (rate, table) in enumerate(zip(rates, row, strict=True)):
        label = ("cooling 1", "cooling 2", "final cooling")[place]
        if rate > min(table, fastest) - step:
            is_table = table <= fastest
            reason, amount = (Reason.TABLE_ROW if is_table else Reason.KILN), rate
        elif by_residual[place]:
            reason, amount = Reason.RESIDUAL, residual_pa
        else:
            reason, amount = Reason.TEMPORARY, temporary_pa
        why.append(
            Why(segment=label, part=SegmentPart.RATE, reason=reason, amount=amount)
        )
    return why
