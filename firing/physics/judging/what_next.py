"""What can be done with a slab as it is now, and the outcome of each option.

The recorded firing is computed on into each possible future, so the glass's own past is
in the outcome; `verdict` judges the firing itself.
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from firing.physics.designing.annealing_table import anneal_segments, row_at_or_above
from firing.physics.designing.band import BandedResult, simulate_band
from firing.physics.designing.design import design
from firing.physics.designing.evening_out import EVEN_K, slow_time_s
from firing.physics.designing.request import Controller, DesignRequest, Floor, Kind
from firing.physics.glass.properties import soak_of
from firing.physics.judging.plan_following import NEAR_K
from firing.physics.judging.verdict import TOLERANCE, JudgedFiring, LimitStanding, stand
from firing.physics.kiln.curve import KilnCurve, kiln_curve
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.offset import shown_c, true_c
from firing.physics.schedule import (
    PhysicsProblem,
    Programme,
    Segment,
    fit_to_controller,
)
from firing.physics.slab.input import Accuracy, SlabFiring

SLOWER = 0.5
# On the way up a re-anneal may add what the limit leaves beside the tension already in
# the slab, but at least this share of the limit. If the outcome is still over it, it is
# designed again for that much less.
LEAST_SHARE = 0.1
CALMER = 0.75
MOST_DESIGNS = 4
ACCURACY = Accuracy(nodes=17)
TRACE_SLOTS = 800


class Action(StrEnum):
    """What can be done."""

    GO_ON = "go on"
    HOLD = "hold, then go on"
    SLOW_DOWN = "go on at half the rate"
    RE_ANNEAL = "re-anneal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One thing that can be done, and its outcome.

    Attributes
    ----------
    action : Action
        What.
    schedule : Programme or None
        From the kiln as it is now; None if there is nothing left to do.
    curve : KilnCurve or None
        The kiln under it, from now on.
    lasts_s : float
        How much longer it takes [s].
    band : BandedResult
        Stresses of the whole: record and future; the window is the future.
    temporary, residual : LimitStanding
        How the tension still to come, and what stays, stand to their limits.
    is_within : bool
        Whether both are within.
    is_recommended : bool
        To go on if that is within, else the shortest that is; where none is, the one
        that leaves least.
    """

    action: Action
    schedule: Programme | None
    curve: KilnCurve | None
    lasts_s: float
    band: BandedResult = field(repr=False)
    temporary: LimitStanding
    residual: LimitStanding
    is_within: bool
    is_recommended: bool = False


def what_next(
    judgement: JudgedFiring,
    *,
    controller: Controller | None = None,
    kiln: KilnModel | None = None,
    floor: Floor | None = Floor.TABLE_ROW,
) -> tuple[Option, ...]:
    """Compute the options from here.

    Parameters
    ----------
    judgement : JudgedFiring
        The firing so far. Without a plan in its request, the table's row for the
        thickness takes its place.
    controller : Controller or None
        What the schedules must fit; None is any.
    kiln : KilnModel or None
        The kiln, as in `curve`.
    floor : Floor or None
        For the re-anneal, as in `design`.

    Returns
    -------
    tuple of Option
        Go on; hold and slow down while the kiln is hot; re-anneal unless the glass is
        above its annealing point, never became one slab, or is still on its way up to
        the hottest part of its plan.

    Raises
    ------
    PhysicsProblem
        If the controller cannot be told a schedule.

    Notes
    -----
    A hold lasts until a difference of 20 K through or across the slab would have
    fallen to 2 K. The re-anneal is `design`'s, heated more gently where the slab as it
    is would be stressed more than a slab of one temperature.

    References
    ----------
    `simulation`; the rules are this project's.
    """
    controller = controller or Controller()
    rest = remaining_segments(judgement)
    options = [_option(judgement, Action.GO_ON, rest, controller, kiln)]
    now_c = judgement.shown_now_c
    is_hot = now_c > judgement.request.opening_c + 10 * NEAR_K
    if is_hot and rest:
        held = (_hold(judgement), *rest)
        options.append(_option(judgement, Action.HOLD, held, controller, kiln))
        slow = tuple(map(_slower, rest))
        options.append(_option(judgement, Action.SLOW_DOWN, slow, controller, kiln))
    is_below = now_c < judgement.request.glass.annealing_point_c
    if judgement.is_joined and is_below and not _is_on_its_way_up(judgement):
        again = _re_anneal(judgement, controller, kiln, floor)
        if again is not None:
            options.append(again)
    return _recommended(options)


def remaining_segments(judgement: JudgedFiring) -> tuple[Segment, ...]:
    """Return what is left of the plan from the kiln's present temperature.

    Parameters
    ----------
    judgement : JudgedFiring
        The firing so far.

    Returns
    -------
    tuple of Segment
        Before the hottest part: from the first segment not reached. After it: the
        soak for what it has missed, if the kiln is at it or above; and the stages that
        end below the present temperature.

    References
    ----------
    None: bookkeeping.
    """
    planned, now_c = judgement.request.planned, judgement.shown_now_c
    followed = judgement.followed
    if planned is None or followed is None:
        return _down_from(_table_cooling(judgement), now_c, {})
    segments = planned.segments
    hottest = max(range(len(segments)), key=lambda place: segments[place].target_c)
    missed = {hold.segment: hold.missed_s for hold in followed.holds}
    if followed.done <= hottest:
        return segments[min(followed.done, hottest) :]
    process = segments[hottest]
    left_s = missed.get(process.label, 0.0)
    down = _down_from(segments[hottest + 1 :], now_c, missed)
    if now_c >= process.target_c - NEAR_K and left_s > 0:
        return (replace(process, rate_c_per_h=None, hold_s=left_s), *down)
    return down


def _is_on_its_way_up(judgement: JudgedFiring) -> bool:
    """Return whether the kiln still has to get to the hottest part of its plan."""
    planned, followed = judgement.request.planned, judgement.followed
    if planned is None or followed is None or judgement.is_over:
        return False
    segments = planned.segments
    hottest = max(range(len(segments)), key=lambda place: segments[place].target_c)
    return followed.done <= hottest


def _down_from(
    segments: tuple[Segment, ...], now_c: float, missed: dict[str, float]
) -> tuple[Segment, ...]:
    left = []
    for segment in segments:
        if segment.hold_s and now_c >= segment.target_c - NEAR_K:
            left_s = missed.get(segment.label, segment.hold_s)
            if now_c > segment.target_c + NEAR_K or left_s > 0:
                left.append(replace(segment, hold_s=left_s))
        elif segment.target_c < now_c - 1:
            left.append(segment)
    return tuple(left)


def _table_cooling(judgement: JudgedFiring) -> tuple[Segment, ...]:
    request = judgement.request
    segments = anneal_segments(
        row_at_or_above(request.thickness_m),
        soak_c=soak_of(request.glass),
        end_c=request.opening_c,
    )
    return tuple(
        replace(one, target_c=shown_c(one.target_c, request.kiln_offset_k))
        for one in segments
    )


def _hold(judgement: JudgedFiring) -> Segment:
    request, now_c = judgement.request, judgement.shown_now_c
    slow_s = slow_time_s(judgement.firing, request.uncertainty, now_c)
    hold_s = slow_s * float(np.log(10 * EVEN_K / EVEN_K))
    return Segment(label="hold", rate_c_per_h=None, target_c=now_c, hold_s=hold_s)


def _slower(segment: Segment) -> Segment:
    if segment.rate_c_per_h is None:
        return segment
    return replace(segment, rate_c_per_h=segment.rate_c_per_h * SLOWER)


def _option(
    judgement: JudgedFiring,
    action: Action,
    segments: tuple[Segment, ...],
    controller: Controller,
    kiln: KilnModel | None,
) -> Option:
    if not segments:
        return _outcome(judgement, action, None, kiln)
    exact = Programme(start_c=judgement.shown_now_c, segments=segments)
    fitted = fit_to_controller(
        exact,
        unit=controller.unit,
        segments_available=controller.segments_available,
        slowest_c_per_h=controller.slowest_c_per_h,
        fastest_c_per_h=controller.fastest_c_per_h,
        rate_step=controller.rate_step,
    )
    return _outcome(judgement, action, fitted, kiln)


def _outcome(
    judgement: JudgedFiring,
    action: Action,
    schedule: Programme | None,
    kiln: KilnModel | None,
) -> Option:
    """Compute record and future together."""
    request, now_s = judgement.request, judgement.record.lasts_s
    curve, firing, lasts_s = None, judgement.firing, 0.0
    if schedule is not None:
        until_c = min(request.opening_c, schedule.end_c)
        curve = kiln_curve(schedule, kiln, until_c=until_c)
        firing = _joined(firing, curve, request.kiln_offset_k)
        lasts_s = curve.lasts_s
    band = simulate_band(
        replace(firing, window_s=(now_s, now_s + lasts_s)),
        request.uncertainty,
        ACCURACY,
        trace_slots=TRACE_SLOTS,
    )
    limits = request.limits
    temporary = stand(band.window_pa, limits.temporary_pa, limits.warning_pa)
    residual = stand(band.residual_tension_pa, limits.residual_pa, limits.warning_pa)
    if schedule is None:
        temporary = LimitStanding.WITHIN  # Nothing is still to come.
    return Option(
        action=action,
        schedule=schedule,
        curve=curve,
        lasts_s=lasts_s,
        band=band,
        temporary=temporary,
        residual=residual,
        is_within=temporary is residual is LimitStanding.WITHIN,
    )


def _joined(firing: SlabFiring, curve: KilnCurve, kiln_offset_k: float) -> SlabFiring:
    now_s = float(firing.time_s[-1])
    return replace(
        firing,
        time_s=np.concatenate((firing.time_s, now_s + curve.time_s[1:])),
        kiln_c=np.concatenate(
            (firing.kiln_c, true_c(curve.temperature_c[1:], kiln_offset_k))
        ),
    )


def _re_anneal(
    judgement: JudgedFiring,
    controller: Controller,
    kiln: KilnModel | None,
    floor: Floor | None,
) -> Option | None:
    """Return the re-anneal, as gentle on the way up as the slab needs.

    None if no such schedule was found: then only the other options are left.
    """
    request, limits = judgement.request, judgement.request.limits
    least_pa = LEAST_SHARE * limits.temporary_pa
    there_pa = judgement.band.residual_tension_pa.high
    heating_pa = max(limits.temporary_pa - there_pa, least_pa)
    best: Option | None = None
    for _ in range(MOST_DESIGNS):
        wanted = DesignRequest(
            glass=request.glass,
            thickness_m=request.thickness_m,
            kind=Kind.RE_ANNEAL,
            boundary=request.boundary,
            bending=request.bending,
            limits=limits,
            uncertainty=request.uncertainty,
            start_c=judgement.shown_now_c,
            opening_c=request.opening_c,
            controller=controller,
            kiln=kiln,
            floor=floor,
            heating_limit_pa=heating_pa,
            kiln_offset_k=request.kiln_offset_k,
        )
        try:
            schedule = design(wanted).proposed.schedule
        except PhysicsProblem:
            if best is None:
                raise
            return best
        best = _outcome(judgement, Action.RE_ANNEAL, schedule, kiln)
        if best.is_within or heating_pa <= least_pa:
            return best
        heating_pa = max(heating_pa * CALMER, least_pa)
        if best.residual is not LimitStanding.WITHIN:
            limits = replace(limits, residual_pa=limits.residual_pa * (1 - TOLERANCE))
    return best


def _recommended(options: list[Option]) -> tuple[Option, ...]:
    within = [option for option in options if option.is_within]
    if within:
        chosen = min(
            within,
            key=lambda option: (option.action is not Action.GO_ON, option.lasts_s),
        )
    else:
        chosen = min(options, key=lambda option: option.band.residual_tension_pa.high)
    return tuple(replace(option, is_recommended=option is chosen) for option in options)
