"""A schedule as a table: in the reader's units and as it is typed into a controller."""

from dataclasses import dataclass
from typing import Any

from firing.models import Schedule, ScheduleRule
from firing.physics.schedule import Programme
from firing.schedules.selectors import stress_words
from firing.schedules.selectors.programmes import kiln_run
from firing.schedules.selectors.schedules import programme_of
from studio import units
from studio.models import Kiln
from studio.units import TemperatureUnit
from studio.viewer import Viewer

RULE_WORDS = {
    ScheduleRule.NEXT_ROW: (
        "The table's nearest row, and one row thicker: the habit of the trade."
    ),
    ScheduleRule.ROW: "The table's first row that is at least as thick.",
    ScheduleRule.EXACT: (
        "The table's own law at the measured height: the soak between two rows, and "
        "rates that fall with the square of the thickness."
    ),
    ScheduleRule.COMPUTED: (
        "Computed from heat and stress: the fewest kiln hours whose tension stays "
        "within the limits, and never faster than the table's row."
    ),
    ScheduleRule.STANDARD: "The studio's standing programme for single sheets.",
}
CAUTIONS = (
    "A computed schedule is an estimate from a model with stated assumptions, never a "
    "promise that a piece will not break. Test it on a maquette.",
    "Follow the instructions of the glass maker and of the kiln maker.",
    "Electrical work is for licensed electricians, by your local code.",
)
SHEET_CAUTIONS = (
    "Read the typed programme back from the controller before you start it.",
    "A kiln stays hot long after it was switched off; wear gloves and a face shield.",
    "Glass taken out too warm breaks by thermal shock. Wait for the opening temperature.",
    "Dust of kiln wash and fibre holds fine silica: wear a respirator, clean wet.",
    *CAUTIONS,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentRow:
    """One segment, shown twice: for the reader and for the controller."""

    number: int
    label: str
    rate: str
    target: str
    hold: str
    typed_rate: str
    typed_target: str
    typed_hold: str
    ends_after: str
    is_translated: bool
    """Whether the controller's unit is not the reader's."""


def segment_rows(schedule: Schedule, viewer: Viewer) -> list[SegmentRow]:
    """Return a schedule's segments in words and as typed into its controller."""
    return programme_rows(programme_of(schedule), schedule.kiln, viewer)


def programme_rows(
    programme: Programme, kiln: Kiln | None, viewer: Viewer
) -> list[SegmentRow]:
    """Return a programme's segments in words and as typed into a kiln's controller."""
    unit = viewer.temperature_unit
    if kiln is not None:
        unit = TemperatureUnit(kiln.controller_unit)
    run = kiln and kiln_run(kiln, programme)
    ends = run.segment_ends_s if run else [None] * len(programme.segments)
    return [
        SegmentRow(
            number=number,
            label=segment.label,
            rate="as fast as it can"
            if segment.rate_c_per_h is None
            else viewer.rate(segment.rate_c_per_h),
            target=viewer.temperature(segment.target_c),
            hold=viewer.duration(segment.hold_s) if segment.hold_s else "none",
            typed_rate=_typed_rate(segment.rate_c_per_h, unit),
            typed_target=_whole(units.format_temperature(segment.target_c, unit)),
            typed_hold=_clock(segment.hold_s),
            is_translated=unit != viewer.temperature_unit,
            ends_after="" if end is None else units.format_duration(end, parts=2),
        )
        for number, (segment, end) in enumerate(
            zip(programme.segments, ends, strict=True), start=1
        )
    ]


def _typed_rate(c_per_h: float | None, unit: TemperatureUnit) -> str:
    return "full" if c_per_h is None else _whole(units.format_rate(c_per_h, unit))


def _whole(text: str) -> str:
    return text.replace(".0 ", " ")


def _clock(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def basis_facts(schedule: Schedule, viewer: Viewer) -> list[tuple[str, str]]:
    """Say in words which numbers a schedule was computed from."""
    basis: dict[str, Any] = schedule.basis
    shown = (
        ("Height of the glass", "thickness_mm", viewer.length),
        ("Annealed as", "rule_thickness_mm", viewer.length),
        ("Hottest", "process_c", viewer.temperature),
        ("Held there", "process_hold_s", viewer.duration),
        ("Anneal soak of the glass", "anneal_soak_c", viewer.temperature),
        ("Soak", "anneal_soak_s", viewer.duration),
        ("Cooling 1, by the rule", "cooling_1_c_per_h", viewer.rate),
        ("Cooling 2, by the rule", "cooling_2_c_per_h", viewer.rate),
        ("Final cooling, by the rule", "final_cooling_c_per_h", viewer.rate),
        (
            "May be opened when the kiln shows",
            "opening_temperature_c",
            viewer.temperature,
        ),
        ("and all the glass is below", "glass_opens_c", viewer.temperature),
        (
            "Typed lower, as the kiln is hotter than it shows by",
            "kiln_offset_k",
            viewer.temperature_difference,
        ),
        ("Heat passes through", "faces", str),
        ("Limit while hot", "temporary_limit_mpa", _mpa),
        ("Limit of what stays", "residual_limit_mpa", _mpa),
        ("Tension in it before", "there_mpa", _mpa_range),
        ("Limit while heating, beside what is in it", "heating_limit_mpa", _mpa),
        ("Stays in the cold glass", "residual_mpa", _mpa_range),
        ("Seen edge-on", "retardation_nm_cm", _nm_range),
        ("Highest stress, cooling", "cooling_mpa", _mpa_range),
        ("Highest stress, heating", "heating_mpa", _mpa_range),
        ("At most on the way", "on_the_way_mpa", _mpa_range),
        ("Computed with the engine's version", "engine", str),
        ("The soak is as long as", "soak_rule", str),
        ("From cold to opening", "kiln_s", viewer.duration),
        ("The table's row would take", "table_row_kiln_s", viewer.duration),
    )
    return [(words, show(basis[key])) for words, key, show in shown if key in basis]


def _mpa(value: float) -> str:
    return f"{value:g} MPa"


def _mpa_range(band: list[float]) -> str:
    return f"{band[0]:.2f} to {band[-1]:.2f} MPa"


def _nm_range(band: list[float]) -> str:
    return stress_words.nanometres(band[0], band[-1])


def bands_words(schedule: Schedule, viewer: Viewer) -> str:
    """Say what the bands of a computed schedule are over; empty for the others."""
    basis = schedule.basis
    if "annealing_point_off_k" not in basis:
        return ""
    return stress_words.over_words(
        annealing_point_k=basis["annealing_point_off_k"],
        annealing_point_above_k=basis.get("annealing_point_above_k"),
        conductivity_share=basis["conductivity_off_share"],
        thermocouple_k=basis["thermocouple_off_k"],
        viewer=viewer,
    )


def rule_words(schedule: Schedule) -> str:
    """Say in words where a schedule's anneal comes from."""
    return RULE_WORDS[ScheduleRule(schedule.rule)]
