"""What happens in a firing that runs: events, each with its beginning and its end.

The same readings give the same events, in whatever order and however often they came.
What an event does to the glass is computed by `verdict` and `what_next`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from firing.physics.judging.in_turn import TypedAt, follow_typed, in_force
from firing.physics.judging.plan_following import (
    CUT_OVER_S,
    GRID_S,
    LATE_LEAST_S,
    LATE_SHARE,
    NEAR_K,
    OVERSHOOT_K,
    Fault,
    FaultKind,
)
from firing.physics.judging.stalls import stalls
from firing.physics.judging.verdict import missing, with_gaps
from firing.physics.judging.wrong_unit import check_unit
from firing.physics.kiln.broken import pace_of
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.recorded import FilteredReadings, clean_readings
from firing.physics.schedule import Curve, FloatArray, PhysicsProblem, Programme

# Rules of this project, without a source. Longer than this without readings, and longer
# than so many times their usual distance, is silence.
SILENT_S, SILENT_TIMES = 900.0, 5.0
# A kiln that rose this much over the lowest of a cut, twice in a row, has power again.
BACK_K, BACK_SIGMAS = 2.0, 4.0
# Too fast for less than this is the swing of a controller.
FAST_LEAST_S = 1800.0
# So few readings say nothing yet.
FEW = 5
# Events of one kind closer together than this are one: no storm.
APART_S = 1800.0


class EventKind(StrEnum):
    """What happens."""

    CUT = "power cut"
    SILENT = "no readings"
    THERMOCOUPLE = "thermocouple"
    STALLED = "stalled"
    BEHIND = "behind"
    AHEAD = "ahead"
    TOO_HOT = "too hot"
    NOT_REACHED = "not reached"
    SHORT_HOLD = "short hold"
    TOO_FAST = "cooling too fast"
    UNUSABLE = "unusable readings"


# Their whole time is accounted for: what else it did to the record is no other event.
LOST_TIME = (EventKind.CUT, EventKind.SILENT, EventKind.THERMOCOUPLE)

FROM_FAULTS = {
    FaultKind.CUT: EventKind.CUT,
    FaultKind.GAP: EventKind.SILENT,
    FaultKind.THERMOCOUPLE: EventKind.THERMOCOUPLE,
    FaultKind.NOT_REACHED: EventKind.NOT_REACHED,
    FaultKind.SHORT_HOLD: EventKind.SHORT_HOLD,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing that happened, or goes on.

    Attributes
    ----------
    kind : EventKind
        What.
    segment : str
        Label of the planned segment; empty where it has none.
    begins_s : float
        When [s, as the request counts].
    ends_s : float or None
        When it was over; None while it goes on.
    begins_c, worst_c : float
        The kiln at its beginning and at its worst [°C].
    amount : float
        Kelvin fallen (CUT), over or under the target (TOO_HOT, NOT_REACHED); seconds
        (SILENT, THERMOCOUPLE, STALLED, BEHIND, SHORT_HOLD); the fastest rate [°C/h]
        (AHEAD, TOO_FAST).
    """

    kind: EventKind
    segment: str
    begins_s: float
    ends_s: float | None
    begins_c: float
    worst_c: float
    amount: float


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchRequest:
    """A firing under way, and until when it was listened to.

    Attributes
    ----------
    time_s, temperature_c : ndarray, shape (n,)
        Readings [s, °C]; times never decrease.
    planned : Programme
        What was asked for.
    typed : tuple of TypedAt
        What was typed since, in order of time.
    expected : Curve or None
        The kiln as planned, what was typed included [s on the same clock].
    kiln : KilnModel
        How it heats and cools.
    hottest_c : float
        What the kiln may show at most [°C].
    silent_s : float
        For how long nothing was heard though a logger should send, 0 if it does [s].
    longest_gap_s : float or None
        What counts as silence; None for what `longest_gap` says of the readings [s].
    """

    time_s: FloatArray
    temperature_c: FloatArray
    planned: Programme
    typed: tuple[TypedAt, ...]
    expected: Curve | None
    kiln: KilnModel
    hottest_c: float
    silent_s: float = 0.0
    longest_gap_s: float | None = None


def longest_gap(time_s: FloatArray) -> float:
    """Return the longest time between two readings that is no silence [s].

    References
    ----------
    Own rule: five times their usual distance, but 15 minutes at the least.
    """
    if time_s.size < 3:
        return SILENT_S
    return max(SILENT_S, SILENT_TIMES * float(np.median(np.diff(time_s))))


def watch(request: WatchRequest) -> tuple[Event, ...]:
    """Return what happened so far, and what goes on.

    Parameters
    ----------
    request : WatchRequest
        Readings, plan, kiln.

    Returns
    -------
    tuple of Event
        In order of time.

    Notes
    -----
    Readings that no kiln can have had, or in another unit than the plan, are an event
    themselves.

    References
    ----------
    `plan_following`, `stalls`; own rules, without a source.
    """
    if request.time_s.size < FEW:
        return ()
    try:
        return _watch(request)
    except PhysicsProblem:
        return (_unusable(request),)


def _unusable(request: WatchRequest) -> Event:
    return Event(
        kind=EventKind.UNUSABLE,
        segment="",
        begins_s=float(request.time_s[0]),
        ends_s=None,
        begins_c=float(request.temperature_c[0]),
        worst_c=float(request.temperature_c[-1]),
        amount=0.0,
    )


def _watch(request: WatchRequest) -> tuple[Event, ...]:
    gap_s = request.longest_gap_s or longest_gap(request.time_s)
    record = clean_readings(
        request.time_s,
        request.temperature_c,
        longest_gap_s=gap_s,
        pace=pace_of(request.kiln),
    )
    check_unit(
        record, request.time_s, request.temperature_c, request.planned, request.kiln
    )
    followed = follow_typed(record, request.planned, request.typed)
    faults = with_gaps(
        tuple(missing(FaultKind.GAP, gap) for gap in record.gaps), followed.faults
    )
    faults += tuple(missing(FaultKind.THERMOCOUPLE, one) for one in record.broken)
    events = [*_of_faults(faults, request, record), *_too_hot(request, record)]
    events = [one for one in events if not _is_misread(one, events)]
    events += _silence(request, record, gap_s)
    events += _stalled(request, record, events)
    events += _behind(request, record, events)
    events = _merged(events)
    # Readings count from the first of them, the request from its own beginning.
    return tuple(
        replace(
            one,
            begins_s=one.begins_s + record.starts_s,
            ends_s=None if one.ends_s is None else one.ends_s + record.starts_s,
        )
        for one in events
    )


def _of_faults(
    faults: Iterable[Fault], request: WatchRequest, record: FilteredReadings
) -> list[Event]:
    found = []
    for fault in faults:
        kind = FROM_FAULTS.get(fault.kind)
        if fault.kind is FaultKind.TOO_FAST:
            if fault.end_s - fault.start_s < FAST_LEAST_S:
                continue
            is_cooling = fault.end_c < fault.start_c
            kind = EventKind.TOO_FAST if is_cooling else EventKind.AHEAD
        if kind is None:
            continue
        event = Event(
            kind=kind,
            segment=fault.segment,
            begins_s=fault.start_s,
            ends_s=fault.end_s,
            begins_c=fault.start_c,
            worst_c=fault.end_c,
            amount=fault.amount,
        )
        if kind is EventKind.CUT:
            event = _cut(event, request, record)
        elif _is_going_on(fault, kind, record):
            event = replace(event, ends_s=None)
        found.append(event)
    return found


def _is_going_on(fault: Fault, kind: EventKind, record: FilteredReadings) -> bool:
    if kind is EventKind.THERMOCOUPLE:
        return fault.end_s > record.lasts_s
    is_rate = kind in (EventKind.AHEAD, EventKind.TOO_FAST)
    return is_rate and fault.end_s >= record.lasts_s - 2 * GRID_S


def _cut(event: Event, request: WatchRequest, record: FilteredReadings) -> Event:
    """Return a cut with its end by the readings themselves: they know it minutes sooner
    than the curve that is made of them.
    """
    ends_s = event.ends_s or event.begins_s
    time_s = request.time_s - record.starts_s
    inside = (time_s >= event.begins_s) & (time_s <= ends_s + CUT_OVER_S)
    times, kiln_c = time_s[inside], request.temperature_c[inside]
    least_k = max(BACK_K, BACK_SIGMAS * record.noise_k)
    risen_k = kiln_c - np.minimum.accumulate(kiln_c)
    is_up = risen_k > least_k
    is_back = (risen_k > 2 * least_k) | (is_up & np.concatenate(([False], is_up[:-1])))
    until = int(np.argmax(is_back)) if is_back.any() else kiln_c.size - 1
    lowest = int(np.argmin(kiln_c[: until + 1]))
    if is_back.any():
        over_s: float | None = float(times[lowest])
    else:
        over_s = ends_s if ends_s < record.lasts_s - CUT_OVER_S else None
    return replace(
        event,
        ends_s=over_s,
        worst_c=float(kiln_c[lowest]),
        amount=max(event.begins_c - float(kiln_c[lowest]), event.amount),
    )


def _too_hot(request: WatchRequest, record: FilteredReadings) -> list[Event]:
    """Return when the kiln was above its own limit, or above all that it was told."""
    told_c = [request.planned.peak_c, *(one.programme.peak_c for one in request.typed)]
    limit_c = min(request.hottest_c, max(told_c) + OVERSHOOT_K)
    time_s, kiln_c = record.curve.time_s, record.curve.temperature_c
    is_over = np.concatenate(([False], kiln_c > limit_c, [False]))
    edges = np.flatnonzero(np.diff(is_over.astype(int)))
    found = []
    for start, after in zip(edges[::2], edges[1::2], strict=True):
        worst_c = float(kiln_c[start:after].max())
        found.append(
            Event(
                kind=EventKind.TOO_HOT,
                segment="",
                begins_s=float(time_s[start]),
                ends_s=None if after == kiln_c.size else float(time_s[after]),
                begins_c=float(kiln_c[start]),
                worst_c=worst_c,
                amount=worst_c - min(request.hottest_c, max(told_c)),
            )
        )
    return found


def _is_misread(event: Event, events: list[Event]) -> bool:
    """Return whether readings are missing because a thermocouple was broken then."""
    return event.kind is EventKind.SILENT and any(
        one.kind is EventKind.THERMOCOUPLE
        and one.begins_s <= event.begins_s + GRID_S
        and (one.ends_s is None or one.ends_s >= (event.ends_s or 0.0) - GRID_S)
        for one in events
    )


def _silence(
    request: WatchRequest, record: FilteredReadings, gap_s: float
) -> list[Event]:
    if request.silent_s <= gap_s:
        return []
    return [
        Event(
            kind=EventKind.SILENT,
            segment="",
            begins_s=record.lasts_s,
            ends_s=None,
            begins_c=record.last_c,
            worst_c=record.last_c,
            amount=request.silent_s,
        )
    ]


def _stalled(
    request: WatchRequest, record: FilteredReadings, events: list[Event]
) -> list[Event]:
    found = []
    stops = [max(one.at_s - record.starts_s, 0.0) for one in request.typed]
    for number, (from_s, to_s) in enumerate(
        zip((0.0, *stops), (*stops, record.lasts_s), strict=True)
    ):
        times = np.arange(from_s, to_s, GRID_S)
        kiln_c = np.interp(times, record.curve.time_s, record.curve.temperature_c)
        plan = in_force(record, request.planned, request.typed[:number])
        for first, last in stalls(
            times,
            kiln_c,
            plan,
            time_constant_s=request.kiln.cooling_time_constant_s,
            room_c=request.kiln.ambient_c,
        ):
            event = Event(
                kind=EventKind.STALLED,
                segment="",
                begins_s=float(times[first]),
                ends_s=float(times[last]) if last < times.size - 1 else None,
                begins_c=float(kiln_c[first]),
                worst_c=float(kiln_c[last]),
                amount=float(times[last] - times[first]),
            )
            # What was not read, or without power, is told as that.
            if not any(_touch(event, one, record) for one in events):
                found.append(event)
    return found


def _touch(event: Event, other: Event, record: FilteredReadings) -> bool:
    if other.kind not in LOST_TIME:
        return False
    ends_s = record.lasts_s if event.ends_s is None else event.ends_s
    # Back from a cut the kiln waits for its plan.
    until_s = _back_s(other, record) + APART_S
    return other.begins_s <= ends_s and event.begins_s <= until_s


def _back_s(event: Event, record: FilteredReadings) -> float:
    """Return when the kiln was back where an event took it away [s]."""
    if event.ends_s is None:
        return record.lasts_s
    later = record.curve.time_s >= event.ends_s
    is_back = later & (record.curve.temperature_c >= event.begins_c - NEAR_K)
    if event.kind is not EventKind.CUT:
        return event.ends_s
    if not is_back.any():
        return record.lasts_s
    return float(record.curve.time_s[is_back][0])


def _behind(
    request: WatchRequest, record: FilteredReadings, events: list[Event]
) -> list[Event]:
    """Return whether the kiln is late on its way to its hottest, other events apart."""
    expected = request.expected
    if expected is None or expected.time_s.size < 2:
        return []
    begins_s = max(
        [float(expected.time_s[0]), *(one.at_s for one in request.typed)],
    )
    plan_s = np.arange(begins_s, expected.time_s[-1], GRID_S)
    if plan_s.size < 2:
        return []
    plan_c = np.interp(plan_s, expected.time_s, expected.temperature_c)
    peak = int(np.argmax(plan_c))
    # The latest that the plan is still so cold on its way up.
    heat_c = np.maximum.accumulate(plan_c[: peak + 1])
    times = np.arange(max(begins_s - record.starts_s, 0.0), record.lasts_s, GRID_S)
    if peak == 0 or not times.size:
        return []
    kiln_c = np.interp(times, record.curve.time_s, record.curve.temperature_c)
    top = np.flatnonzero(kiln_c >= heat_c[-1] - NEAR_K)
    past = [one for one in events if one.kind is EventKind.NOT_REACHED]
    if top.size or past:
        end = int(top[0]) if top.size else int(np.argmax(kiln_c))
        times, kiln_c = times[: end + 1], kiln_c[: end + 1]
    places = np.searchsorted(heat_c, np.maximum.accumulate(kiln_c) + NEAR_K, "right")
    due_s = plan_s[np.minimum(places, peak)]
    late_s = times + record.starts_s - due_s
    lost_s = np.zeros(times.size)
    for one in events:
        ends_s = _back_s(one, record)
        if one.kind in (*LOST_TIME, EventKind.STALLED):
            lost_s += np.clip(times, one.begins_s, ends_s) - one.begins_s
    since_s = times + record.starts_s - begins_s
    is_late = late_s - lost_s > np.maximum(LATE_LEAST_S, LATE_SHARE * since_s)
    if not is_late.any():
        return []
    first = int(np.argmax(is_late))
    return [
        Event(
            kind=EventKind.BEHIND,
            segment="",
            begins_s=float(times[first]),
            ends_s=float(times[-1]) if top.size or past else None,
            begins_c=float(kiln_c[first]),
            worst_c=float(kiln_c[-1]),
            amount=float(late_s.max()),
        )
    ]


def _merged(events: list[Event]) -> list[Event]:
    """Return events in order; those of one kind that follow closely are one."""
    found: list[Event] = []
    last: dict[EventKind, int] = {}
    for event in sorted(events, key=lambda one: (one.begins_s, one.kind)):
        place = last.get(event.kind)
        if place is not None:
            before = found[place]
            if before.ends_s is None or event.begins_s - before.ends_s <= APART_S:
                is_worse = event.amount > before.amount
                found[place] = replace(
                    event if is_worse else before,
                    begins_s=before.begins_s,
                    begins_c=before.begins_c,
                    ends_s=None
                    if None in (before.ends_s, event.ends_s)
                    else max(before.ends_s or 0.0, event.ends_s or 0.0),
                )
                continue
        last[event.kind] = len(found)
        found.append(event)
    return found
