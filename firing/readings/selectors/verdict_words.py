"""A judgement in a maker's words: the verdict first, then everything behind it.

It reads the kept numbers; only differences and sums are computed here.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from firing.models import Firing, Judgement
from firing.physics.designing.band import Band
from firing.physics.formats.design_format import schedule_from_mapping
from firing.physics.judging.plan_following import FaultKind
from firing.physics.judging.verdict import Verdict
from firing.physics.judging.what_next import Action
from firing.physics.kiln.offset import shown_c
from firing.readings.selectors.verdict_faults import (
    FALLS_WITHIN_S,
    HoldWords,
    RateWords,
    difference_words,
    fault_line,
    hold_words,
    rate_words,
    told_faults,
)
from firing.readings.selectors.verdict_titles import (
    deciding_band,
    joins_words,
    limits_of,
    range_words,
    sentence_words,
    title_words,
)
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
from studio.viewer import Viewer

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
    line = title_words(verdict, numbers, viewer)
    decides = deciding_band(verdict, numbers)
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
    bands, decides = _bands(numbers), deciding_band(verdict, numbers)
    is_out_early = judgement.firing.finished_at is not None and not numbers["is_over"]
    return JudgementWords(
        title=title
        if is_out_early or verdict is Verdict.STILL_HOT
        else title_words(verdict, numbers, viewer),
        sentence=sentence_words(verdict, numbers, viewer)
        if not is_out_early or verdict not in DECIDED_ON_THE_WAY
        else OUT_EARLY,
        status_kind=kind,
        is_good=verdict in (Verdict.WITHIN, Verdict.STILL_HOT) and not is_out_early,
        headline=None if decides is None else bands[decides],
        bands=bands,
        holds=tuple(hold_words(one, viewer) for one in numbers["holds"]),
        rates=tuple(
            rate_words(one, viewer)
            for one in numbers["rates"]
            if one["fastest_c_per_h"] > 0
        ),
        faults=tuple(
            fault_line(fault, numbers, viewer, when)
            for fault in told_faults(numbers["faults"])
        ),
        facts=_facts(numbers, viewer, when),
        next_words=OUT_EARLY_NEXT
        if is_out_early and verdict in DECIDED_ON_THE_WAY
        else _next_words(verdict, numbers, options, viewer),
        options=options,
        assumptions=_assumptions(numbers, viewer),
        cautions=CAUTIONS,
    )


def _bands(numbers: dict[str, Any]) -> tuple[BandWords, ...]:
    limits = limits_of(numbers)
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
    limits = limits_of(numbers)
    stays = range_words(mpa(one["residual_max_tension_pa"]))
    outcome = f"Leaves {stays}, limit {limits.residual_pa / MPA:g}."
    if one["schedule"] is not None:
        way = range_words(mpa(one["peak_tension_window_pa"]))
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
    off = difference_words(abs(off_k), viewer)
    side = "hotter" if off_k > 0 else "colder"
    return (
        f"The kiln is taken to be {off} {side} than it shows, less so below "
        f"{viewer.temperature(400)}; temperatures on this page are what it shows."
    )


def _left_out(numbers: dict[str, Any]) -> int:
    count: int = numbers["spikes"] + numbers.get("broken_readings", 0)
    return count


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
        f"{difference_words(u['thermocouple_k'], viewer)} off, and all of these "
        "together in every way. It is a range of cases, not a probability.",
        _offset_words(numbers, viewer),
        f"{numbers['readings']:,} readings, freed of noise of about "
        f"{difference_words(max(numbers['noise_k'], 0.5), viewer)}"
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
            f"{joins_words(numbers, viewer)}."
        )
    return tuple(said)
