"""What a design means in a maker's words: bands against limits, and the reason for each
part.

Stress is in MPa for everybody, and in nm/cm where a polariscope shows it; the rest is
in the reader's units. Only differences are computed here.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from firing.physics.designing.band import Band
from firing.physics.designing.design import Computed, Design, Rule
from firing.physics.designing.reasons import Reason, SegmentPart, Why
from firing.physics.designing.request import Kind
from firing.physics.glass.families import QUOTED_ANNEALING_C
from firing.physics.limits import Limits
from firing.schedules.selectors.fuse_anneal import OF_ENGINE, rule_name
from studio.units import format_temperature_difference
from studio.viewer import Viewer

MPA = 1e6
HOUR_S = 3600.0
QUARTER_S = 900.0
# A smaller difference means nothing to a maker.
HARDLY_K = 1.0
HARDLY_S = 30 * 60.0
GAIN_STEP_S = 10 * 60.0
SCALE = 200.0
ROOM_ABOVE_LIMIT = 1.6
# The three bands of an outcome, where there is little room.
SHORT = ("Stays", "Cooling", "Heating")

# How long each schedule is, from its proposal for the kiln [s].
Lengths = Mapping[Rule, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A band on a line with its limit, in the drawing's own units (0 to 200)."""

    start: float
    width: float
    middle: float
    limit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BandWords:
    """One band against its limit."""

    name: str
    range: str
    limit: str
    also: str
    verdict: str
    is_within: bool
    is_warning: bool
    over: str
    """How far it may go and its limit, if that is over it; else empty."""
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignOutcome:
    """One schedule and what it does to the glass."""

    rule: str
    title: str
    total: str
    anneal: str
    soak: str
    ready: str
    bands: tuple[BandWords, ...]
    is_within: bool
    verdict: str

    @property
    def over(self) -> tuple[str, ...]:
        """What is over a limit, each in few words."""
        return tuple(
            f"{words} {band.over}"
            for words, band in zip(SHORT, self.bands, strict=True)
            if band.over
        )

    @property
    def is_warning(self) -> bool:
        """Return whether it may crack."""
        return any(band.is_warning for band in self.bands)

    @property
    def said(self) -> str:
        """Say the outcome in one sentence, for those who do not see it."""
        stays, cooling, heating = self.bands
        return (
            f"{self.title}: {self.total}, {self.verdict.lower()}. {stays.range} stays in "
            f"the glass, {cooling.range} while cooling, {heating.range} while heating."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Because:
    """Why one segment is as it is."""

    segment: str
    sentence: str


def mpa(pa: float) -> str:
    """Write a stress: two decimals below 1 MPa, one or two above."""
    return f"{pa / MPA:.2f} MPa"


def mpa_range(band: Band) -> str:
    """Write a band of stress from its lowest to its highest."""
    return f"{band.low / MPA:.2f} to {band.high / MPA:.2f} MPa"


def band_words(
    name: str, band: Band, limit_pa: float, limits: Limits, also: str = ""
) -> BandWords:
    """Compare the top of a band with its limit, in words and as a mark."""
    is_within = band.high <= limit_pa
    is_warning = band.high >= limits.warning_pa
    if is_within:
        verdict = f"within the limit of {limit_pa / MPA:g} MPa"
    else:
        # Rounded up, so that what is over is never over by zero.
        over = _up(band.high - limit_pa)
        verdict = f"over the limit of {limit_pa / MPA:g} MPa by {over} MPa"
    if is_warning:
        verdict += f"; from {limits.warning_pa / MPA:g} MPa it may crack"
    full = max(band.high, limit_pa * ROOM_ABOVE_LIMIT)
    start = SCALE * max(0.0, band.low) / full
    return BandWords(
        name=name,
        range=mpa_range(band),
        limit=f"limit {limit_pa / MPA:g}",
        also=also,
        verdict=verdict,
        is_within=is_within,
        is_warning=is_warning,
        over="" if is_within else f"{_up(band.high)} MPa, limit {limit_pa / MPA:g}",
        mark=Mark(
            start=round(start, 1),
            width=round(max(3.0, SCALE * band.high / full - start), 1),
            middle=round(SCALE * max(0.0, band.middle) / full, 1),
            limit=round(SCALE * limit_pa / full, 1),
        ),
    )


def _up(pa: float) -> str:
    return f"{math.ceil(pa / MPA * 100) / 100:.2f}"


def nanometres(low: float, high: float) -> str:
    """Return a range of retardation in whole nm/cm: nobody can see finer than that."""
    if high < 0.5:
        return "less than 1 nm/cm"
    ends = dict.fromkeys((f"{low:.0f}", f"{high:.0f}"))
    return f"{' to '.join(ends)} nm/cm"


def bands_of(computed: Computed, limits: Limits) -> tuple[BandWords, ...]:
    """Return the three bands that are compared with limits."""
    band = computed.band
    nm = band.retardation_nm_cm
    return (
        band_words(
            "Stays in the cold glass",
            band.residual_tension_pa,
            limits.residual_pa,
            limits,
            also=f"{nanometres(abs(nm.low), abs(nm.high))}, seen edge-on",
        ),
        band_words(
            "Highest stress, cooling", band.cooling_pa, limits.temporary_pa, limits
        ),
        band_words(
            "Highest stress, heating", band.heating_pa, limits.temporary_pa, limits
        ),
    )


def title_of(one: Computed, kind: Kind, viewer: Viewer) -> str:
    """Name the source of an anneal, with its row; the table is not for enamel."""
    if kind is Kind.ENAMEL and one.rule is Rule.TABLE_ROW:
        return "Common practice"
    row_mm = None if one.row_m is None else one.row_m * 1000
    return rule_name(OF_ENGINE[one.rule], row_mm, viewer)


def outcome_of(
    computed: Computed, limits: Limits, kind: Kind, viewer: Viewer, lengths: Lengths
) -> DesignOutcome:
    """Say what a schedule does and how long it takes."""
    soak = next(s for s in computed.schedule.segments if s.label == "anneal soak")
    bands = bands_of(computed, limits)
    ready = computed.ready_s
    return DesignOutcome(
        rule=computed.rule.value,
        title=title_of(computed, kind, viewer),
        total=viewer.duration(full_quarters(length_s(computed, lengths))),
        anneal=viewer.duration(whole_minutes(computed.anneal_s)),
        soak=f"{viewer.duration(whole_minutes(soak.hold_s))} at "
        f"{viewer.temperature(soak.target_c)}",
        ready=""
        if ready is None
        else f"{viewer.duration(whole_minutes(ready.low))} to "
        f"{viewer.duration(whole_minutes(ready.high))}",
        bands=bands,
        is_within=computed.is_within,
        verdict="Within the limits"
        if computed.is_within
        else "Over: " + ", ".join(b.name.lower() for b in bands if not b.is_within),
    )


def whole_minutes(seconds: float) -> float:
    """Round to the minute, or to five from ten hours up: no reader needs more."""
    step = 60.0 if seconds < 10 * HOUR_S else 300.0
    return round(seconds / step) * step


def full_quarters(seconds: float) -> float:
    """Round up to a quarter of an hour: as people say it, and never too early."""
    return math.ceil(seconds / QUARTER_S) * QUARTER_S


def next_quarter(at: datetime) -> datetime:
    """Return an instant up to the next quarter of an hour: no estimate is better."""
    return datetime.fromtimestamp(full_quarters(at.timestamp()), UTC)


def length_s(one: Computed, lengths: Lengths) -> float:
    """Return how long a schedule is: by its proposal, else as the design has it [s]."""
    return lengths.get(one.rule, whole_minutes(one.kiln_s))


def gain_words(design: Design, viewer: Viewer, lengths: Lengths) -> list[str]:
    """Say honestly what the computed schedule gains over the table, if anything."""
    proposed, is_enamel = design.proposed, design.request.kind is Kind.ENAMEL
    names = {
        Rule.TABLE_ROW: "common practice" if is_enamel else "the published table",
        Rule.NEXT_ROW: "the next row",
    }
    said, rows = opening_words(design, viewer), set()
    for other in design.compared:
        # For some heights the nearest row and the next are the same.
        if other.rule in names and other.row_m not in rows:
            said.append(_against(proposed, other, names[other.rule], viewer, lengths))
            rows.add(other.row_m)
    if design.request.floor is not None and not is_enamel:
        said.append(
            "The computed anneal is never shorter or faster than the published table."
        )
    return said


def opening_words(design: Design, viewer: Viewer) -> list[str]:
    """Say at what the kiln may be opened, where that is colder than it usually is."""
    one, usual_c = design.proposed, design.request.opening_c
    shown_c = float(one.curve.temperature_c[-1])
    if shown_c > usual_c - HARDLY_K:
        return []
    return [
        f"Open the kiln when it shows {viewer.temperature(shown_c)}, not at its usual "
        f"{viewer.temperature(usual_c)}: glass this thick is still hotter than the air "
        f"round it, and must itself be below {viewer.temperature(one.opens_c)}."
    ]


def _against(
    one: Computed, other: Computed, name: str, viewer: Viewer, lengths: Lengths
) -> str:
    saved_s = length_s(other, lengths) - length_s(one, lengths)
    hours = viewer.duration(round(abs(saved_s) / GAIN_STEP_S) * GAIN_STEP_S)
    if abs(saved_s) < HARDLY_S:
        time = f"The computed schedule takes as long as {name}"
    elif saved_s > 0:
        time = f"The computed schedule is {hours} shorter than {name}"
    else:
        time = f"The computed schedule is {hours} longer than {name}"
    mine = one.band.residual_tension_pa.high
    theirs = other.band.residual_tension_pa.high
    stress = (
        f"leaves up to {mpa(mine)} in the glass where {name} leaves up to {mpa(theirs)}"
    )
    if not other.is_within:
        stress += ", which is not within your limits"
    return f"{time}; it {stress}."


def reasons_of(design: Design, viewer: Viewer) -> list[Because]:
    """Say why each part of the schedule is as it is, without physics."""
    limits = design.request.limits
    every: Sequence[Why] = design.why
    if design.request.kind is Kind.ENAMEL:
        # The table is not for single sheets; practice takes its place.
        every = [
            replace(why, reason=Reason.PRACTICE)
            if why.reason is Reason.TABLE_ROW
            else why
            for why in every
        ]
    return [
        Because(
            segment=why.segment.capitalize(), sentence=_sentence(why, limits, viewer)
        )
        for why in every
    ]


def _sentence(why: Why, limits: Limits, viewer: Viewer) -> str:
    if why.part is SegmentPart.RATE:
        return _rate_sentence(why, limits, viewer)
    if why.part is SegmentPart.HOLD:
        length = viewer.duration(whole_minutes(why.amount))
        return {
            Reason.WARM_THROUGH: f"{length}, until the far side of the glass is as hot "
            "as this firing needs it.",
            Reason.PRACTICE: f"{length}, which is common practice and enough for the "
            "far side to get warm.",
            Reason.EVEN_THROUGH: f"{length}, until no place through the thickness is "
            f"more than {_difference(2, viewer)} hotter than another.",
            Reason.EVEN_ACROSS: f"{length}, until a difference of "
            f"{_difference(20, viewer)} across the slab, as kilns have them, has "
            f"fallen to {_difference(2, viewer)}.",
            Reason.TABLE_ROW: f"{length}, as in the table's row; the glass evens "
            "out sooner than that.",
        }.get(why.reason, f"{length}: {why.reason.value}.")
    moved = _difference(why.amount, viewer)
    return {
        Reason.SOAK_RAISED: f"{moved} hotter than the glass's usual soak: the glass "
        "lets go of stress sooner there, and that takes less time in all.",
        Reason.STAGES_LOWERED: f"ends {moved} lower than the table's stage, because "
        "this glass still stiffens there and must be cooled slowly for longer.",
    }.get(why.reason, f"moved by {moved}: {why.reason.value}.")


def _rate_sentence(why: Why, limits: Limits, viewer: Viewer) -> str:
    if why.reason in (Reason.RESIDUAL, Reason.TEMPORARY, Reason.HEATING_TENSION):
        stress = mpa(why.amount)
        return {
            Reason.RESIDUAL: "as fast as the stress that stays allows: up to "
            f"{stress}, your limit is {mpa(limits.residual_pa)}.",
            Reason.TEMPORARY: "as fast as the tension on the way down allows: up to "
            f"{stress}, your limit is {mpa(limits.temporary_pa)}.",
            Reason.HEATING_TENSION: "slower than usual, or the middle would be pulled "
            f"too hard while the outside is warmer: up to {stress}, your limit is "
            f"{mpa(limits.temporary_pa)}.",
        }[why.reason]
    rate = viewer.rate(why.amount)
    return {
        Reason.PRACTICE: f"{rate}, which is common practice; the tension stays below "
        "your limit.",
        Reason.TABLE_ROW: f"{rate}, as fast as the table's row lets it; the stress would allow "
        "more, but no proposal is faster than the table.",
        Reason.KILN: f"{rate}, the fastest that kiln and controller can.",
        Reason.DROP_TENSION: f"the drop to the soak is slowed to {rate}, so that the "
        "outside is not pulled too hard.",
    }.get(why.reason, f"{rate}: {why.reason.value}.")


def _difference(kelvin: float, viewer: Viewer) -> str:
    return format_temperature_difference(kelvin, viewer.temperature_unit, decimals=0)


def uncertainty_words(design: Design, viewer: Viewer) -> str:
    """Say what the bands are over."""
    sure = design.request.uncertainty
    return over_words(
        annealing_point_k=sure.annealing_point_k,
        annealing_point_above_k=sure.annealing_point_above_k,
        conductivity_share=sure.conductivity_share,
        thermocouple_k=sure.thermocouple_k,
        viewer=viewer,
    )


def over_words(
    *,
    annealing_point_k: float,
    conductivity_share: float,
    thermocouple_k: float,
    viewer: Viewer,
    annealing_point_above_k: float | None = None,
) -> str:
    """Say what a band is over, in the reader's degrees."""
    annealing = annealing_words(annealing_point_k, annealing_point_above_k, viewer)
    return (
        f"Each band is over an annealing point {annealing}, a conductivity "
        f"{conductivity_share * 100:.0f} % higher or lower, a "
        f"thermocouple {_difference(thermocouple_k, viewer)} off, faces that follow "
        "the kiln exactly, and all of these together in every way. It is a range of "
        "cases, not a probability."
    )


def annealing_words(below_k: float, above_k: float | None, viewer: Viewer) -> str:
    """Say how far off an annealing point may be; `above_k` is none if as far up."""
    below = _difference(below_k, viewer)
    if above_k is None or above_k == below_k:
        return f"{below} higher or lower"
    return f"from {below} lower to {_difference(above_k, viewer)} higher"


def annealing_point_words(design: Design, family: str, viewer: Viewer) -> str:
    """Say what a family's annealing points do to the result; empty if it has one."""
    if design.request.uncertainty.annealing_point_above_k is None:
        return ""
    quoted = " and ".join(viewer.temperature(c) for c in QUOTED_ANNEALING_C[family])
    computed = ", ".join(
        f"{viewer.temperature(point_c)}: {mpa(pa)}"
        for point_c, pa in design.proposed.band.by_annealing_point
    )
    return (
        f"This glass's own annealing point is not entered. {quoted} are quoted for its "
        "family, so this schedule allows for each, and for "
        f"{_difference(design.request.uncertainty.annealing_point_k, viewer)} more. "
        f"What stays in the glass, computed by annealing point: {computed}."
    )


def outcomes(design: Design, viewer: Viewer, lengths: Lengths) -> list[DesignOutcome]:
    """Return the proposed schedule first, then those beside it."""
    limits, kind = design.request.limits, design.request.kind
    every: Sequence[Computed] = (design.proposed, *design.compared)
    return [outcome_of(one, limits, kind, viewer, lengths) for one in every]
