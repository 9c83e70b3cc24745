"""A judgement in a maker's words: the verdict first, then everything behind it.

It reads the kept numbers; only differences and sums are computed here.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from firing.drawings.chart_input import ChartAlarm, ChartCut
from firing.models import Firing, Judgement
from firing.physics.designing.band import Band
from firing.physics.formats.design_format import schedule_from_mapping
from firing.physics.judging.plan_following import FaultKind
from firing.physics.judging.verdict import FROZEN_BELOW_K, LimitStanding, Verdict
from firing.physics.judging.what_next import Action
from firing.physics.kiln.offset import shown_c
from firing.physics.limits import Limits
from firing.schedules.selectors.across_words import across_words
from firing.schedules.selectors.refusal_words import stored_refusal_words
from firing.schedules.selectors.stress import faces_words
from firing.schedules.selectors.stress_words import (
    MPA,
    BandWords,
    annealing_words,
    band_words,
    nanometres,
    whole_minutes,
)
from firing.schedules.selectors.tables import SegmentRow, programme_rows
from firing.schedules.selectors.verdict_numbers import mpa, numbers_of
from studio.models import Kiln
from studio.units import format_temperature_difference
from studio.viewer import Viewer

# Of judgements that were kept without it.
JOINED_C = 670.0
# A smaller excess rate or delay is only the swing of a controller.
UNREAD = (FaultKind.GAP, FaultKind.THERMOCOUPLE, FaultKind.DOUBTFUL)
WORTH_A_WORD_S = 1800.0
FALLS_WITHIN_S = 600.0
# A kiln that fell for less than this was perhaps only opened.
OPEN_AT_MOST_S = 1800.0

STATUS_KIND = {
    Verdict.WITHIN: "done",
    Verdict.STILL_HOT: "hot",
    Verdict.UNSURE: "waiting",
    Verdict.CHECK: "waiting",
    Verdict.TENSION_OVER: "problem",
    Verdict.NOT_FUSED: "problem",
    Verdict.NOT_HOT: "problem",
    Verdict.RE_ANNEAL: "problem",
    Verdict.NOT_TO_SAVE: "problem",
    Verdict.MAY_HAVE_CRACKED: "problem",
}
ACTION_WORDS = {
    Action.GO_ON: "Go on as planned",
    Action.HOLD: "Hold the kiln where it is, then go on",
    Action.SLOW_DOWN: "Go on at half the rate",
    Action.RE_ANNEAL: "Anneal it again",
    Action.COOL_FIRST: "Let it cool as planned, then anneal it again",
}
# What is said of a firing that goes on; once it is unloaded other words are needed.
DECIDED_ON_THE_WAY = (Verdict.STILL_HOT, Verdict.RE_ANNEAL, Verdict.NOT_TO_SAVE)
OUT_EARLY = (
    "It is out of the kiln, and its readings end before the glass was cold. Look at its "
    "edges and its underside in raking light. Import the readings down to the opening "
    "temperature to know what stays in it."
)
OUT_EARLY_NEXT = "Inspect it. What can be done is computed once its readings are cold."
# The bands of a verdict, in their order.
STAYS, COOLING, HEATING = range(3)
# Good news, and what is no question of stress, is one line without numbers.
SAID_WITHOUT_NUMBERS = (Verdict.WITHIN, Verdict.STILL_HOT, Verdict.UNSURE)
CAUTIONS = (
    "The computation is an estimate from a model, not a measurement: look at the slab "
    "between crossed polarisers where you can.",
    "A slab under tension can break late. Handle it with gloves and eye protection, and "
    "keep it from drafts and warm or cold water.",
    "Nothing here promises that a piece will not break. Follow the instructions of the "
    "glass maker and of the kiln maker.",
)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionWords:
    """One option from here, with its outcome."""

    action: str
    title: str
    is_recommended: bool
    is_within: bool
    lasts: str
    outcome: str
    key: str
    rows: tuple[SegmentRow, ...]
    types_nothing: bool
    """Whether the running program does it: the rows are for a controller that stopped."""
    is_falling: bool
    """Whether the kiln fell as without power when it was last read."""
    books_re_anneal: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgementWords:
    """The judge's page, written out."""

    title: str
    sentence: str
    status_kind: str
    is_good: bool
    headline: BandWords | None
    """The tension that decides the verdict."""
    bands: tuple[BandWords, ...]
    holds: tuple[HoldWords, ...]
    rates: tuple[RateWords, ...]
    faults: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    next_words: str
    options: tuple[OptionWords, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def other_bands(self) -> tuple[BandWords, ...]:
        """The bands that do not stand in the headline."""
        return tuple(band for band in self.bands if band != self.headline)

    @property
    def has_proposal(self) -> bool:
        """Return whether one of the ways to go on is proposed."""
        return any(option.is_recommended for option in self.options)


def verdict_line(judgement: Judgement, viewer: Viewer) -> tuple[str, str]:
    """Return the verdict as one line, and the shape of its status."""
    numbers = numbers_of(judgement)
    if judgement.verdict == Judgement.NOT_JUDGED:
        return "Not enough readings to judge", "waiting"
    verdict = Verdict(judgement.verdict)
    if verdict is Verdict.STILL_HOT and judgement.firing.finished_at is not None:
        return "Within the limits so far, but the readings end in hot glass", "waiting"
    line = _title(verdict, numbers, viewer)
    decides = _decides(verdict, numbers)
    if decides is not None and verdict not in SAID_WITHOUT_NUMBERS:
        band = _bands(numbers)[decides]
        line = f"{line}: {band.range}, {band.limit}"
    return line, STATUS_KIND[verdict]


def words_of(judgement: Judgement, *, viewer: Viewer, now: datetime) -> JudgementWords:
    """Write a judgement out in the reader's units and times."""
    numbers = numbers_of(judgement)
    title, kind = verdict_line(judgement, viewer)
    if judgement.verdict == Judgement.NOT_JUDGED:
        return JudgementWords(
            title=title,
            sentence=stored_refusal_words(numbers["problem"], viewer),
            status_kind=kind,
            is_good=False,
            headline=None,
            bands=(),
            holds=(),
            rates=(),
            faults=(),
            facts=(("Readings", f"{numbers['readings']:,}"),),
            next_words="",
            options=(),
            assumptions=(),
            cautions=CAUTIONS,
        )
    verdict = Verdict(judgement.verdict)
    start = judgement.firing.booking.starts_at + timedelta(seconds=numbers["starts_s"])

    def when(at_s: float) -> str:
        return viewer.moment(start + timedelta(seconds=at_s), now)

    options = tuple(
        _option(one, numbers, judgement.firing.kiln, viewer)
        for one in sorted(
            _possible(judgement.firing, numbers),
            key=lambda one: not one["is_recommended"],
        )
    )
    bands, decides = _bands(numbers), _decides(verdict, numbers)
    is_out_early = judgement.firing.finished_at is not None and not numbers["is_over"]
    return JudgementWords(
        title=title if is_out_early else _title(verdict, numbers, viewer),
        sentence=_sentence(verdict, numbers, viewer)
        if not is_out_early or verdict not in DECIDED_ON_THE_WAY
        else OUT_EARLY,
        status_kind=kind,
        is_good=verdict in (Verdict.WITHIN, Verdict.STILL_HOT) and not is_out_early,
        headline=None if decides is None else bands[decides],
        bands=bands,
        holds=tuple(_hold(one, viewer) for one in numbers["holds"]),
        rates=tuple(
            _rate(one, viewer) for one in numbers["rates"] if one["fastest_c_per_h"] > 0
        ),
        faults=tuple(
            _fault_line(fault, numbers, viewer, when)
            for fault in _told(numbers["faults"])
        ),
        facts=_facts(numbers, viewer, when),
        next_words=OUT_EARLY_NEXT
        if is_out_early and verdict in DECIDED_ON_THE_WAY
        else _next_words(verdict, numbers, options, viewer),
        options=options,
        assumptions=_assumptions(numbers, viewer),
        cautions=CAUTIONS,
    )


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
        for fault in _told(numbers["faults"])
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


def _fault_line(
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


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _told(faults: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
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
        FaultKind.OVERSHOOT: f"{segment}: {_difference(amount, viewer)} over its target",
        FaultKind.NOT_REACHED: f"{segment}: the kiln stayed {_difference(amount, viewer)}"
        " under its target",
        FaultKind.SHORT_HOLD: f"{segment}: the hold is "
        f"{viewer.duration(whole_minutes(amount))} short",
        FaultKind.TOO_FAST: f"{segment}: up to {viewer.rate(amount)}, faster than "
        f"planned for {length}",
        FaultKind.LATE: f"{segment}: reached {viewer.duration(whole_minutes(amount))} "
        "later than planned",
    }[FaultKind(fault["kind"])]


def _difference(kelvin: float, viewer: Viewer) -> str:
    return format_temperature_difference(kelvin, viewer.temperature_unit, decimals=0)


def _range(band: Sequence[float]) -> str:
    """Write a band of MPa with as many figures as a model can give."""
    digits = 1 if band[2] >= 2 else 2
    low, high = f"{band[0]:.{digits}f}", f"{band[2]:.{digits}f}"
    return f"{low} MPa" if low == high else f"{low} to {high} MPa"


def _title(verdict: Verdict, numbers: dict[str, Any], viewer: Viewer) -> str:
    if verdict is Verdict.WITHIN:
        if _serious(numbers):
            return "Annealed within the limits, though not as planned"
        return "Annealed as planned"
    if verdict is Verdict.STILL_HOT:
        if _serious(numbers):
            return "Within the limits in spite of what went wrong, still cooling"
        return "Within the limits so far, still cooling"
    if verdict is Verdict.UNSURE:
        return f"Not enough readings: none for {_unread(numbers, viewer)}"
    if verdict is Verdict.NOT_FUSED:
        return "The sheets did not become one slab"
    if verdict is Verdict.NOT_HOT:
        hottest = viewer.temperature(numbers["hottest_c"])
        if not numbers.get("planned_c"):
            return f"It never got hot enough: the kiln reached {hottest}"
        planned = viewer.temperature(numbers["planned_c"])
        return f"It never got hot enough: the kiln reached {hottest} of {planned}"
    if verdict is Verdict.NOT_TO_SAVE:
        return f"Over a limit whatever is done from here: {_at_best(numbers)}"
    if verdict is Verdict.RE_ANNEAL and not numbers["is_over"]:
        return "It must be annealed again"
    if verdict is Verdict.RE_ANNEAL:
        return _culprit(numbers, viewer)
    if verdict is Verdict.TENSION_OVER:
        return f"Too much stress while {_greater_when(numbers)}"
    if verdict is Verdict.MAY_HAVE_CRACKED:
        return "It may have cracked"
    if numbers["is_over"] and numbers["residual"] == LimitStanding.PERHAPS:
        return "Perhaps not annealed well enough"
    return f"Perhaps too much stress while {_greater_when(numbers)}"


def _decides(verdict: Verdict, numbers: dict[str, Any]) -> int | None:
    """Return which of the bands decides the verdict: stays, cooling or heating."""
    greater = HEATING if _greater_when(numbers) == "heating" else COOLING
    if verdict in (Verdict.NOT_FUSED, Verdict.NOT_HOT, Verdict.NOT_TO_SAVE):
        return None
    if verdict is Verdict.MAY_HAVE_CRACKED:
        stays = mpa(numbers["residual_max_tension_pa"])
        return STAYS if stays[1] > _greater(numbers)[1] else greater
    is_perhaps_over = (
        numbers["is_over"] and numbers["residual"] == LimitStanding.PERHAPS
    )
    if verdict is Verdict.TENSION_OVER or (
        verdict is Verdict.CHECK and not is_perhaps_over
    ):
        return greater
    return STAYS


def _unread(numbers: dict[str, Any], viewer: Viewer) -> str:
    """Return the longest time without usable readings."""
    longest_s = max(
        fault["end_s"] - fault["start_s"]
        for fault in numbers["faults"]
        # A logger that died with the power has its gap in the cut.
        if fault["kind"] in (*UNREAD, FaultKind.CUT)
    )
    return viewer.duration(whole_minutes(longest_s))


def _at_best(numbers: dict[str, Any]) -> str:
    """Say which tension the recommended option leads to."""
    best = next(one for one in numbers["next"] if one["is_recommended"])
    residual = mpa(best["residual_max_tension_pa"])
    limits = _limits(numbers)
    if best["residual"] != LimitStanding.WITHIN:
        return (
            f"at best {_range(residual)} stays, limit {limits.residual_pa / MPA:g} MPa"
        )
    tension = _range(mpa(best["peak_tension_window_pa"]))
    return f"at best it pulls {tension}, limit {limits.temporary_pa / MPA:g} MPa"


def _greater(numbers: dict[str, Any]) -> list[float]:
    greater: list[float] = max(
        mpa(numbers["peak_tension_heating_pa"]),
        mpa(numbers["peak_tension_cooling_pa"]),
        key=lambda band: band[2],
    )
    return greater


def _greater_when(numbers: dict[str, Any]) -> str:
    heating = numbers["peak_tension_heating_pa"]["high"]
    is_heating = heating > numbers["peak_tension_cooling_pa"]["high"]
    return "heating" if is_heating else "cooling"


def _serious(numbers: dict[str, Any]) -> list[dict[str, Any]]:
    return [
        fault
        for fault in _told(numbers["faults"])
        if fault["kind"] != FaultKind.LATE and fault["kind"] != FaultKind.OVERSHOOT
    ]


def _culprit(numbers: dict[str, Any], viewer: Viewer) -> str:
    """Name what caused the stress: the worst fault on the way down that matters."""
    frozen_c = numbers["annealing_point_c"] - FROZEN_BELOW_K
    fast = [
        fault
        for fault in numbers["faults"]
        if fault["kind"] in (FaultKind.CUT, FaultKind.TOO_FAST)
        and fault["start_c"] > frozen_c
        and fault["start_c"] > fault["end_c"]
    ]
    if fast:
        worst = max(fast, key=lambda one: one["start_c"] - one["end_c"])
        start, end = worst["start_c"], max(worst["end_c"], frozen_c)
        return (
            f"Cooled too fast between {viewer.temperature(start)} "
            f"and {viewer.temperature(end)}"
        )
    short = [one for one in numbers["faults"] if one["kind"] == FaultKind.SHORT_HOLD]
    if short:
        missed = viewer.duration(whole_minutes(short[-1]["amount"]))
        return f"The {short[-1]['segment']} was {missed} too short"
    return "Not annealed well enough"


def _sentence(verdict: Verdict, numbers: dict[str, Any], viewer: Viewer) -> str:
    if verdict is Verdict.WITHIN:
        return ""
    if verdict is Verdict.STILL_HOT:
        return (
            f"The kiln is at {viewer.temperature(numbers['kiln_now_c'])}, the middle of "
            f"the glass at {viewer.temperature(numbers['glass_now_c']['middle'])}. The rest "
            "of the cooling decides what stays in it."
        )
    if verdict is Verdict.UNSURE:
        return (
            "What the kiln did in that time decides how the glass is. The ranges below "
            "hold the worst that this kiln can have done. Import the missing readings "
            "to know more."
        )
    if verdict is Verdict.RE_ANNEAL and not numbers["is_over"]:
        return (
            "What the kiln did leaves more stress than the limit. What is proposed below "
            "removes it."
        )
    if verdict is Verdict.RE_ANNEAL:
        return (
            "The glass set while its inside was hotter than its outside. It may break "
            "later, by itself, when cut or when warmed. Annealing it again removes the "
            "stress."
        )
    if verdict is Verdict.NOT_FUSED:
        return (
            f"The kiln reached {viewer.temperature(numbers['hottest_c'])}, and not all "
            f"of the glass got to {_joins(numbers, viewer)}, where sheets become "
            "one. They lie loose or hold together in places; the tension below is that "
            "of single sheets. Look at the edge before you move the stack, and fuse it "
            "again."
        )
    if (
        verdict is Verdict.NOT_HOT
        and numbers["hottest_c"] >= numbers["annealing_point_c"]
    ):
        return (
            "The glass lost its stress and was annealed, but it may not be as this "
            "firing was to leave it. Look at its edges and its surface, and fire it "
            "again if they are not."
        )
    if verdict is Verdict.NOT_TO_SAVE:
        return (
            "What is proposed below harms the glass least. Anneal it again once it is "
            "cold and whole."
        )
    if verdict is Verdict.NOT_HOT:
        return (
            "Glass loses its stress from about "
            f"{viewer.temperature(numbers['annealing_point_c'])} on. It was never there, "
            "so whatever stress it had before is still in it, and the enamel or the "
            "shape is not finished. Fire it again."
        )
    if verdict is Verdict.MAY_HAVE_CRACKED:
        return (
            "Look at the edges and the underside in raking light before anything else. "
            f"From {numbers['limits']['warning_pa'] / MPA:g} MPa on, a bubble or a chip can "
            "start a crack."
        )
    return (
        "Part of the range is over the limit. Look at the edges in raking light and, "
        "where you can, between crossed polarisers."
    )


def _bands(numbers: dict[str, Any]) -> tuple[BandWords, ...]:
    limits = _limits(numbers)
    nm = numbers["retardation_nm_cm"]
    stays = (
        "Stays in the cold glass"
        if numbers["is_over"]
        else "Would stay in the glass as it is now"
    )
    return (
        band_words(
            stays,
            Band(**numbers["residual_max_tension_pa"]),
            limits.residual_pa,
            limits,
            also=f"{nanometres(nm['low'], nm['high'])}, seen edge-on",
        ),
        band_words(
            "Highest stress, cooling",
            Band(**numbers["peak_tension_cooling_pa"]),
            limits.temporary_pa,
            limits,
        ),
        band_words(
            "Highest stress, heating",
            Band(**numbers["peak_tension_heating_pa"]),
            limits.temporary_pa,
            limits,
        ),
    )


def _limits(numbers: dict[str, Any]) -> Limits:
    return Limits(**numbers["limits"])


def _hold(hold: dict[str, Any], viewer: Viewer) -> HoldWords:
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


def _rate(rate: dict[str, Any], viewer: Viewer) -> RateWords:
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


def _possible(firing: Firing, numbers: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the options that are still there: unloaded glass is only annealed again from
    cold, or left as it is.
    """
    options: list[dict[str, Any]] = list(numbers["next"] or ())
    if firing.finished_at is None:
        return options
    return [
        one
        for one in options
        if one["schedule"] is None
        or (one["action"] == Action.RE_ANNEAL and numbers["is_over"])
    ]


def _falls(numbers: dict[str, Any]) -> bool:
    """Return whether the kiln fell as without power when it was last read."""
    last_s = numbers["lasts_s"] - FALLS_WITHIN_S
    return any(
        fault["kind"] == FaultKind.CUT and fault["end_s"] >= last_s
        for fault in numbers["faults"]
    )


def _option(
    one: dict[str, Any], numbers: dict[str, Any], kiln: Kiln, viewer: Viewer
) -> OptionWords:
    action = Action(one["action"])
    limits = _limits(numbers)
    stays = _range(mpa(one["residual_max_tension_pa"]))
    outcome = f"Leaves {stays}, limit {limits.residual_pa / MPA:g}."
    if one["schedule"] is not None:
        way = _range(mpa(one["peak_tension_window_pa"]))
        outcome += f" Highest on the way {way}, limit {limits.temporary_pa / MPA:g}."
    title = ACTION_WORDS[action]
    if action is Action.GO_ON and one["schedule"] is None:
        title = "Use it as it is"
    return OptionWords(
        action=action.value,
        title=title,
        is_recommended=one["is_recommended"],
        is_within=one["is_within"],
        lasts=viewer.duration(whole_minutes(one["lasts_s"])) if one["lasts_s"] else "",
        outcome=outcome,
        key=action.value.replace(" ", "_"),
        rows=_rows(one, kiln, viewer),
        types_nothing=action in (Action.GO_ON, Action.COOL_FIRST),
        is_falling=_falls(numbers),
        books_re_anneal=action is Action.RE_ANNEAL,
    )


def _rows(one: dict[str, Any], kiln: Kiln, viewer: Viewer) -> tuple[SegmentRow, ...]:
    """Return what to type from now on, and when each segment ends."""
    if one["schedule"] is None:
        return ()
    programme = schedule_from_mapping(one["schedule"])
    return tuple(programme_rows(programme, kiln, viewer))


def _next_words(
    verdict: Verdict,
    numbers: dict[str, Any],
    options: Sequence[OptionWords],
    viewer: Viewer,
) -> str:
    if numbers["next"] is None:
        return "The next steps are not worked out yet."
    if numbers["options_problem"]:
        why = stored_refusal_words(numbers["options_problem"], viewer)
        return f"The next steps could not be worked out: {why}"
    if verdict is Verdict.WITHIN:
        return "Nothing. The glass is annealed."
    if verdict in (Verdict.NOT_FUSED, Verdict.NOT_HOT):
        return (
            "Record how it came out and book the firing again. Cold glass may be heated "
            "as planned."
        )
    if not options:
        return "No schedule that this controller can take would help."
    return ""


def _facts(
    numbers: dict[str, Any], viewer: Viewer, when: Callable[[float], str]
) -> tuple[tuple[str, str], ...]:
    height = viewer.length(numbers["thickness_mm"])
    facts = [
        (
            "Judged as",
            f"{height}, loose sheets first" if numbers["is_loose"] else height,
        ),
        ("Last reading", when(numbers["lasts_s"])),
    ]
    if numbers["is_loose"]:
        facts.append(("Became one slab", _joined_words(numbers)))
    ready = numbers["glass_ready_s"]
    if ready is not None:
        first, last = when(ready["low"]), when(ready["high"])
        facts.append(
            (
                "Glass itself cool enough",
                first if first == last else f"{first} to {last}",
            )
        )
    else:
        facts.append(("Glass itself cool enough", "not yet at the last reading"))
    peak = numbers["peaks"]["cooling"]
    shown = shown_c(peak["kiln_c"], numbers["kiln_offset_k"])
    facts.append(
        (
            "Highest stress, cooling",
            f"{when(peak['at_s'])}, kiln at {viewer.temperature(shown)}",
        )
    )
    return tuple(facts)


def _offset_words(numbers: dict[str, Any], viewer: Viewer) -> str:
    off_k = numbers["kiln_offset_k"]
    if not off_k:
        return "The kiln is taken to be as hot as it shows."
    off = _difference(abs(off_k), viewer)
    side = "hotter" if off_k > 0 else "colder"
    return (
        f"The kiln is taken to be {off} {side} than it shows, less so below "
        f"{viewer.temperature(400)}; temperatures on this page are what it shows."
    )


def _left_out(numbers: dict[str, Any]) -> int:
    count: int = numbers["spikes"] + numbers.get("broken_readings", 0)
    return count


def _joins(numbers: dict[str, Any], viewer: Viewer) -> str:
    return viewer.temperature(numbers.get("joins_c", JOINED_C))


def _joined_words(numbers: dict[str, Any]) -> str:
    if numbers["is_surely_joined"]:
        return "yes"
    if numbers["is_joined"]:
        return "most likely; the coldest glass only just"
    return "no" if numbers["is_over"] else "not yet"


def _assumptions(numbers: dict[str, Any], viewer: Viewer) -> tuple[str, ...]:
    u = numbers["uncertainty"]
    annealing = annealing_words(
        u["annealing_point_k"], u.get("annealing_point_above_k"), viewer
    )
    said = [
        "A plate of even thickness, free to bend; its corners, bubbles and inclusions "
        "are not in the model.",
        faces_words(is_dammed=numbers["is_dammed"]),
        *across_words(numbers.get("across"), viewer),
        f"Each range is over an annealing point {annealing}, a conductivity "
        f"{u['conductivity_share'] * 100:.0f} % higher or lower, a thermocouple "
        f"{_difference(u['thermocouple_k'], viewer)} off, and all of these "
        "together in every way. It is a range of cases, not a probability.",
        _offset_words(numbers, viewer),
        f"{numbers['readings']:,} readings, freed of noise of about "
        f"{_difference(max(numbers['noise_k'], 0.5), viewer)}"
        + (
            f"; {_left_out(numbers):,} were taken for faults of the logger or its "
            "thermocouple and left out."
            if _left_out(numbers)
            else "; none was left out."
        ),
    ]
    if (
        u.get("annealing_point_above_k", u["annealing_point_k"])
        > u["annealing_point_k"]
    ):
        said.append(
            "The glass's own annealing point is not entered. Enter its maker's on its "
            "page in Stock, and the ranges become narrower."
        )
    if numbers["is_loose"]:
        said.append(
            "Sheets carry their own stress until they have become one slab at about "
            f"{_joins(numbers, viewer)}."
        )
    return tuple(said)
