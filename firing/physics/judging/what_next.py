"""What can be done with a slab as it is now, and the outcome of each option.

The recorded firing is computed on into each possible future, so the glass's own past is
in the outcome; `verdict` judges the firing itself.
"""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np

from firing.physics.designing.annealing_table import anneal_segments, row_at_or_above
from firing.physics.designing.band import Band, BandedResult
from firing.physics.designing.design import design
from firing.physics.designing.evening_out import EVEN_K, slow_time_s
from firing.physics.designing.request import Controller, DesignRequest, Floor, Kind
from firing.physics.designing.unevenness import takes_too_much
from firing.physics.glass.properties import soak_of
from firing.physics.judging.plan_following import NEAR_K
from firing.physics.judging.verdict import (
    TOLERANCE,
    JudgedFiring,
    LimitStanding,
    Verdict,
    banded,
    stand,
)
from firing.physics.kiln.curve import KilnCurve
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.offset import shown_c, true_c
from firing.physics.kiln.opening import Slab, curve_until_out, taken_out
from firing.physics.limits import Limits
from firing.physics.schedule import (
    PhysicsProblem,
    Programme,
    Segment,
    fit_to_controller,
)
from firing.physics.slab.input import Accuracy, SlabFiring

SLOWER = 0.5
# The rates at which a re-anneal may heat a slab that is under tension already [°C/h]:
# slower is not always calmer, as a slab that is torn by its own stress gains by heat.
HEATING_C_PER_H = (150.0, 80.0, 40.0, 20.0, 10.0, 5.0)
ACCURACY = Accuracy(nodes=17)
TRACE_SLOTS = 800


# What may still become better or worse than it reads so far.
UNDECIDED = (Verdict.STILL_HOT, Verdict.UNSURE, Verdict.CHECK)


NOTHING = Band(low=0.0, middle=0.0, high=0.0)


class Action(StrEnum):
    """What can be done."""

    GO_ON = "go on"
    HOLD = "hold, then go on"
    SLOW_DOWN = "go on at half the rate"
    RE_ANNEAL = "re-anneal"
    COOL_FIRST = "cool first"


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
        How the tension still to come, and what stays, stand to their limits. Tension
        that every option has, as it is in the slab now, counts against none.
    harm : float
        The greater of both, as a share of what is allowed; 1 if both are within. What
        a kiln adds that is too uneven for any schedule is left out.
    is_within : bool
        Whether both are within.
    is_recommended : bool
        To go on if that is within, else the shortest that is; where none is, the one of
        least harm, then the shortest.
    """

    action: Action
    schedule: Programme | None
    curve: KilnCurve | None
    lasts_s: float
    band: BandedResult = field(repr=False)
    temporary: LimitStanding
    residual: LimitStanding
    harm: float
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
        Go on; hold and slow down while the kiln is hot; re-anneal, at once or once it
        is cold, unless the glass is above its annealing point, never became one slab,
        or is still on its way up to the hottest part of its plan. The last only where
        going on is not within the limits.

    Raises
    ------
    PhysicsProblem
        If the controller cannot be told a schedule.

    Notes
    -----
    A hold lasts until a difference of 20 K through or across the slab would have
    fallen to 2 K. The re-anneal is `design`'s, at the rate of heating that suits the
    slab as it is. Whatever the kiln may have done in a gap is in every option's band.

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
    if judgement.is_joined and is_below and not judgement.is_on_its_way_up:
        options = _stood(options, judgement)
        options += _re_anneals(judgement, options, controller, kiln, floor)
    return _recommended(_stood(options, judgement))


def go_on(
    judgement: JudgedFiring,
    *,
    controller: Controller | None = None,
    kiln: KilnModel | None = None,
) -> Option:
    """Compute only what comes of going on: enough where nothing went wrong.

    Parameters
    ----------
    judgement, controller, kiln
        As in `what_next`.

    References
    ----------
    As `what_next`.
    """
    rest = remaining_segments(judgement)
    found = _option(judgement, Action.GO_ON, rest, controller or Controller(), kiln)
    return _stood([found], judgement)[0]


def verdict_from_here(judgement: JudgedFiring, options: tuple[Option, ...]) -> Verdict:
    """Return the verdict of a firing that is not over: that of its best option.

    Parameters
    ----------
    judgement : JudgedFiring
        The firing so far.
    options : tuple of Option
        What can be done, one of them recommended.

    Returns
    -------
    Verdict
        As judged, where the best option leads on within the limits; to be annealed
        again, where only that does; not to be saved, where nothing does.

    References
    ----------
    Own rules, without a source.
    """
    best = next((option for option in options if option.is_recommended), None)
    if judgement.is_over or best is None or judgement.verdict not in UNDECIDED:
        return judgement.verdict
    if not best.is_within:
        return Verdict.NOT_TO_SAVE
    if best.action in (Action.RE_ANNEAL, Action.COOL_FIRST):
        return Verdict.RE_ANNEAL
    return judgement.verdict


def remaining_segments(judgement: JudgedFiring) -> tuple[Segment, ...]:
    """Return what is left of the plan from the kiln's present temperature.

    Parameters
    ----------
    judgement : JudgedFiring
        The firing so far.

    Returns
    -------
    tuple of Segment
        Before the hottest part: from the first segment not reached; a slab that is
        past it without having got there only has to cool. After it: the soak for what
        it has missed, if the kiln is at it or above; and the stages that end below the
        present temperature.

    References
    ----------
    None: bookkeeping.
    """
    planned, now_c = judgement.in_force, judgement.shown_now_c
    followed = judgement.followed
    if planned is None or followed is None:
        return _down_from(_table_cooling(judgement), now_c, {})
    segments = planned.segments
    hottest = max(range(len(segments)), key=lambda place: segments[place].target_c)
    missed = {hold.segment: hold.missed_s for hold in followed.holds}
    if followed.done <= hottest:
        if judgement.is_joined and not judgement.is_on_its_way_up:
            return _down_from(segments[hottest + 1 :], now_c, missed)
        return segments[min(followed.done, hottest) :]
    process = segments[hottest]
    left_s = missed.get(process.label, 0.0)
    down = _down_from(segments[hottest + 1 :], now_c, missed)
    if now_c >= process.target_c - NEAR_K and left_s > 0:
        return (replace(process, rate_c_per_h=None, hold_s=left_s), *down)
    return down


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
    curve = None
    if schedule is not None:
        curve = _until_out(judgement, schedule, kiln)
    return _outcome_along(judgement, action, schedule, curve)


def _until_out(
    judgement: JudgedFiring, schedule: Programme, kiln: KilnModel | None
) -> KilnCurve:
    request = judgement.request
    slab = Slab(
        glass=request.glass,
        thickness_m=request.thickness_m,
        boundary=request.boundary,
        temporary_pa=request.limits.temporary_pa,
        conductivity_share=request.uncertainty.conductivity_share,
    )
    return curve_until_out(
        schedule,
        kiln,
        slab,
        ends_c=min(request.opening_c, schedule.end_c),
        opening_c=request.opening_c,
        kiln_offset_k=request.kiln_offset_k,
    )


def _outcome_along(
    judgement: JudgedFiring,
    action: Action,
    schedule: Programme | None,
    curve: KilnCurve | None,
) -> Option:
    request, now_s = judgement.request, judgement.record.lasts_s
    firings: tuple[SlabFiring, ...] = (judgement.firing, *judgement.bridged)
    lasts_s = 0.0
    if curve is not None:
        lasts_s = curve.lasts_s
        firings = tuple(
            taken_out(_joined(one, curve, request.kiln_offset_k)) for one in firings
        )
    _, band = banded(
        tuple(replace(one, window_s=(now_s, float(one.time_s[-1]))) for one in firings),
        request.uncertainty,
        ACCURACY,
        trace_slots=TRACE_SLOTS,
    )
    return _stands(
        Option(
            action=action,
            schedule=schedule,
            curve=curve,
            lasts_s=lasts_s,
            band=band,
            temporary=LimitStanding.WITHIN,
            residual=LimitStanding.WITHIN,
            harm=1.0,
            is_within=True,
        ),
        request.limits,
        NOTHING,
    )


def _stood(options: list[Option], judgement: JudgedFiring) -> list[Option]:
    """Return the options as they stand beside each other."""
    had = _had_by_all(options, judgement)
    return [_stands(option, judgement.request.limits, had) for option in options]


def _had_by_all(options: list[Option], judgement: JudgedFiring) -> Band:
    """Return the tension that is there now, and that no option avoids [Pa]."""
    now_s = judgement.record.lasts_s
    envelope, history = judgement.envelope, judgement.history
    windows = [option.band.window_pa for option in options if option.schedule]
    present = Band(
        low=float(np.interp(now_s, envelope.time_s, envelope.low_pa)),
        middle=float(np.interp(now_s, history.time_s, history.tension_pa)),
        high=float(np.interp(now_s, envelope.time_s, envelope.high_pa)),
    )
    return Band(
        low=min(one.low for one in (present, *windows)),
        middle=min(one.middle for one in (present, *windows)),
        high=min(one.high for one in (present, *windows)),
    )


def _stands(option: Option, limits: Limits, had: Band) -> Option:
    """Return the option as it stands to the limits, less what every option has [Pa]."""
    window = option.band.window_pa if option.schedule else NOTHING
    middle_pa = _beyond(window.middle, had.middle)
    to_come = Band(
        low=_beyond(window.low, had.low),
        middle=middle_pa,
        # Where the middle is more than every option has, the top is at least that.
        high=max(_beyond(window.high, had.high), middle_pa),
    )
    stays = option.band.residual_tension_pa
    temporary = stand(to_come, limits.temporary_pa, limits.warning_pa)
    residual = stand(stays, limits.residual_pa, limits.warning_pa)
    is_within = temporary is residual is LimitStanding.WITHIN
    # Every option has what the kiln does whatever is done.
    kiln = option.band.counted
    kiln_pa = kiln.residual_pa.high if kiln else 0.0
    is_hopeless = takes_too_much(limits.residual_pa, kiln_pa)
    left_pa = stays.high - (kiln_pa if is_hopeless else 0.0)
    worst = max(to_come.high / limits.temporary_pa, left_pa / limits.residual_pa)
    return replace(
        option,
        temporary=temporary,
        residual=residual,
        harm=1.0 if is_within else max(worst, 1.0),
        is_within=is_within,
    )


def _beyond(window_pa: float, had_pa: float) -> float:
    """Return the largest tension to come, 0 if every option has as much."""
    return window_pa if window_pa > had_pa * (1 + TOLERANCE) else 0.0


def _joined(firing: SlabFiring, curve: KilnCurve, kiln_offset_k: float) -> SlabFiring:
    now_s = float(firing.time_s[-1])
    return replace(
        firing,
        time_s=np.concatenate((firing.time_s, now_s + curve.time_s[1:])),
        kiln_c=np.concatenate(
            (firing.kiln_c, true_c(curve.temperature_c[1:], kiln_offset_k))
        ),
    )


def _re_anneals(
    judgement: JudgedFiring,
    others: list[Option],
    controller: Controller,
    kiln: KilnModel | None,
    floor: Floor | None,
) -> list[Option]:
    """Return the re-anneal from here and the one once the slab is cold.

    Only those that can be told to the controller.
    """
    goes_on, had = others[0], _had_by_all(others, judgement)
    found = []
    # Where no such schedule was found, the other options are left.
    with suppress(PhysicsProblem):
        found.append(_re_anneal(judgement, had, controller, kiln, floor))
    if not goes_on.is_within and goes_on.curve is not None:
        with suppress(PhysicsProblem):
            cooled = goes_on.curve
            found.append(
                _cool_first(judgement, goes_on, cooled, had, controller, kiln, floor)
            )
    return found


def _re_anneal(
    judgement: JudgedFiring,
    had: Band,
    controller: Controller,
    kiln: KilnModel | None,
    floor: Floor | None,
) -> Option:
    """Return the re-anneal at the rate of heating that suits the slab as it is."""

    def designed_for(limits: Limits) -> Option:
        schedule = _again(
            judgement, judgement.shown_now_c, limits, controller, kiln, floor
        )
        return _first_within(
            _stands(
                _option(judgement, Action.RE_ANNEAL, segments, controller, kiln),
                judgement.request.limits,
                had,
            )
            for segments in _heated(schedule)
        )

    limits = judgement.request.limits
    found = designed_for(limits)
    if found.residual is LimitStanding.WITHIN:
        return found
    stricter = replace(limits, residual_pa=limits.residual_pa * (1 - 2 * TOLERANCE))
    return min(found, designed_for(stricter), key=_order)


def _cool_first(
    judgement: JudgedFiring,
    goes_on: Option,
    cooled: KilnCurve,
    had: Band,
    controller: Controller,
    kiln: KilnModel | None,
    floor: Floor | None,
) -> Option:
    """Return going on, and from the cold slab the re-anneal that suits it."""
    request = judgement.request
    start_c = float(cooled.temperature_c[-1])
    schedule = _again(judgement, start_c, request.limits, controller, kiln, floor)

    def both(segments: tuple[Segment, ...]) -> KilnCurve:
        again = Programme(start_c=start_c, segments=segments)
        curve = _until_out(judgement, again, kiln)
        return KilnCurve(
            time_s=np.concatenate((cooled.time_s, cooled.lasts_s + curve.time_s[1:])),
            temperature_c=np.concatenate(
                (cooled.temperature_c, curve.temperature_c[1:])
            ),
            segment_ends_s=curve.segment_ends_s,
        )

    return _first_within(
        _stands(
            _outcome_along(
                judgement, Action.COOL_FIRST, goes_on.schedule, both(segments)
            ),
            request.limits,
            had,
        )
        for segments in _heated(schedule)
    )


def _heated(schedule: Programme) -> Iterator[tuple[Segment, ...]]:
    """Give the schedule's segments with each rate of heating, the fastest first."""
    first, *others = schedule.segments
    for rate in HEATING_C_PER_H:
        yield (replace(first, rate_c_per_h=rate), *others)


def _first_within(options: Iterator[Option]) -> Option:
    """Return the first that is within the limits, else the one of least harm."""
    tried = []
    for option in options:
        tried.append(option)
        if option.is_within:
            break
    return min(tried, key=_order)


def _again(
    judgement: JudgedFiring,
    start_c: float,
    limits: Limits,
    controller: Controller,
    kiln: KilnModel | None,
    floor: Floor | None,
) -> Programme:
    request = judgement.request
    wanted = DesignRequest(
        glass=request.glass,
        thickness_m=request.thickness_m,
        kind=Kind.RE_ANNEAL,
        boundary=request.boundary,
        bending=request.bending,
        limits=limits,
        uncertainty=request.uncertainty,
        start_c=start_c,
        opening_c=request.opening_c,
        controller=controller,
        kiln=kiln,
        floor=floor,
        kiln_offset_k=request.kiln_offset_k,
        across=request.across,
    )
    return design(wanted).proposed.schedule


def _order(option: Option) -> tuple[float, bool, float]:
    """Least harm, then to go on, then the shortest."""
    return option.harm, option.action is not Action.GO_ON, option.lasts_s


def _recommended(options: list[Option]) -> tuple[Option, ...]:
    chosen = min(options, key=_order)
    return tuple(replace(option, is_recommended=option is chosen) for option in options)
