"""What the kiln did other than planned, in words and on the chart."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from firing.drawings.chart_input import ChartAlarm, ChartCut
from firing.models import Judgement
from firing.physics.judging.plan_following import FaultKind
from firing.schedules.selectors.stress_words import whole_minutes
from firing.schedules.selectors.verdict_numbers import numbers_of
from studio.units import format_temperature_difference
from studio.viewer import Viewer

# A smaller excess rate or delay is only the swing of a controller.
WORTH_A_WORD_S = 1800.0
# A kiln that fell for less than this was perhaps only opened.
OPEN_AT_MOST_S = 1800.0
FALLS_WITHIN_S = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldWords:
    """A hold: what was planned, what happened, and what is missing."""

    name: str
    at: str
    planned: str
    held: str
    missed: str
    is_short: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RateWords:
    """A ramp: its planned rate, its fastest, and for how long it was too fast."""

    name: str
    planned: str
    fastest: str
    exceeded: str
    is_exceeded: bool


def alarms_of(judgement: Judgement, viewer: Viewer) -> list[ChartAlarm]:
    """Return the faults for the firing chart; it shades gaps and power cuts."""
    if judgement.verdict == Judgement.NOT_JUDGED:
        return []
    numbers = numbers_of(judgement)
    return [
        ChartAlarm(
            at_s=numbers["starts_s"] + fault["start_s"],
            words=_capital(fault_words(fault, viewer)),
            temperature_c=fault["start_c"],
        )
        for fault in told_faults(numbers["faults"])
        if fault["kind"] not in (FaultKind.GAP, FaultKind.CUT)
    ]


def cuts_of(judgement: Judgement) -> list[ChartCut]:
    """Return the power cuts that a verdict found, for the firing chart."""
    if judgement.verdict == Judgement.NOT_JUDGED:
        return []
    numbers = numbers_of(judgement)
    return [
        ChartCut(
            from_s=numbers["starts_s"] + fault["start_s"],
            to_s=numbers["starts_s"] + fault["end_s"],
            words=_cut_name(fault),
        )
        for fault in numbers["faults"]
        if fault["kind"] == FaultKind.CUT
    ]


def _cut_name(fault: dict[str, Any]) -> str:
    lasts_s = fault["end_s"] - fault["start_s"]
    return "Power cut" if lasts_s >= OPEN_AT_MOST_S else "Power cut or opened kiln"


def fault_line(
    fault: dict[str, Any],
    numbers: dict[str, Any],
    viewer: Viewer,
    when: Callable[[float], str],
) -> str:
    """Say when something went wrong, and what."""
    start = when(fault["start_s"])
    if fault["kind"] != FaultKind.CUT:
        return f"{_capital(start)}: {fault_words(fault, viewer)}."
    fell = (
        f"the kiln fell from {viewer.temperature(fault['start_c'])} to "
        f"{viewer.temperature(fault['end_c'])}"
    )
    what = _cut_name(fault)
    goes_on = fault["end_s"] >= numbers["lasts_s"] - FALLS_WITHIN_S
    if goes_on and not numbers["is_over"]:
        return f"{what} since {start}: {fell} so far."
    end = when(fault["end_s"])
    if end.rsplit(" ", 1)[0] == start.rsplit(" ", 1)[0]:
        end = end.rsplit(" ", 1)[-1]
    return f"{what} {start} to {end}: {fell}."


def told_faults(faults: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Leave out what was so short that it is only the swing of a controller."""
    return [
        fault
        for fault in faults
        if fault["kind"] != FaultKind.TOO_FAST
        or fault["end_s"] - fault["start_s"] >= WORTH_A_WORD_S
    ]


def fault_words(fault: dict[str, Any], viewer: Viewer) -> str:
    """Say one fault in words."""
    amount, segment = fault["amount"], fault["segment"]
    start = viewer.temperature(fault["start_c"])
    end = viewer.temperature(fault["end_c"])
    length = viewer.duration(whole_minutes(fault["end_s"] - fault["start_s"]))
    return {
        FaultKind.GAP: f"no readings for {length}, from {start} to {end}",
        FaultKind.THERMOCOUPLE: f"for {length} the thermocouple read what no kiln can "
        "have had; it, or its wire, was broken, and those readings are left out",
        FaultKind.DOUBTFUL: f"for {length} the readings fell away and came back: the "
        "kiln was opened, or the wire was loose. Both are in the ranges",
        FaultKind.CUT: f"power cut: the kiln fell from {start} to {end} in {length}",
        FaultKind.OVERSHOOT: f"{segment}: {difference_words(amount, viewer)} over its target",
        FaultKind.NOT_REACHED: f"{segment}: the kiln stayed {difference_words(amount, viewer)}"
        " under its target",
        FaultKind.SHORT_HOLD: f"{segment}: the hold is "
        f"{viewer.duration(whole_minutes(amount))} short",
        FaultKind.TOO_FAST: f"{segment}: up to {viewer.rate(amount)}, faster than "
        f"planned for {length}",
        FaultKind.LATE: f"{segment}: reached {viewer.duration(whole_minutes(amount))} "
        "later than planned",
    }[FaultKind(fault["kind"])]


def hold_words(hold: dict[str, Any], viewer: Viewer) -> HoldWords:
    """Say what became of a hold."""
    missed_s = hold["missed_s"]
    is_short = missed_s >= 60
    return HoldWords(
        name=hold["segment"].capitalize(),
        at=viewer.temperature(hold["target_c"]),
        planned=viewer.duration(whole_minutes(hold["planned_s"])),
        held=viewer.duration(whole_minutes(hold["held_s"])),
        missed=viewer.duration(whole_minutes(missed_s)) if is_short else "none",
        is_short=missed_s > max(WORTH_A_WORD_S, 0.05 * hold["planned_s"]),
    )


def rate_words(rate: dict[str, Any], viewer: Viewer) -> RateWords:
    """Say how fast a ramp was, and how fast it was to be."""
    is_exceeded = rate["exceeded_s"] >= WORTH_A_WORD_S
    planned, fastest = viewer.rates(rate["planned_c_per_h"], rate["fastest_c_per_h"])
    return RateWords(
        name=rate["segment"].capitalize(),
        planned=planned,
        fastest=fastest,
        exceeded=f"for {viewer.duration(whole_minutes(rate['exceeded_s']))}"
        if is_exceeded
        else "no",
        is_exceeded=is_exceeded,
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def difference_words(kelvin: float, viewer: Viewer) -> str:
    """Write a difference of temperature in the reader's degrees."""
    return format_temperature_difference(kelvin, viewer.temperature_unit, decimals=0)
