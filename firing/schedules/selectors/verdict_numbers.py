"""The numbers kept of a judgement, in the one format of verdicts.

They are `verdict_as_mapping`, which the command prints too, plus what only the page
needs. Judgements kept before had their own form: `old_numbers` reads it.
"""

from collections.abc import Mapping
from typing import Any

from firing.models import Judgement
from firing.physics.designing.band import AcrossBand
from firing.physics.formats.design_format import FORMAT, verdict_as_mapping
from firing.physics.glass.viscosity import joins_c
from firing.physics.judging.verdict import JudgedFiring
from firing.physics.judging.what_next import Option
from firing.physics.kiln.offset import true_c
from firing.physics.slab.input import Across

MPA = 1e6
KEPT_FORMAT = "format"


def kept_numbers(
    judged: JudgedFiring,
    options: tuple[Option, ...] | None,
    *,
    options_problem: Mapping[str, Any],
    **more: object,
) -> dict[str, Any]:
    """Return what is kept of a judgement: its verdict, and what only the page needs."""
    glass, uncertainty = judged.request.glass, judged.request.uncertainty
    return {
        KEPT_FORMAT: FORMAT,
        **verdict_as_mapping(judged, options or ()),
        # None until somebody asks what can be done; see `Judgement.lacks_options`.
        **({"next": None} if options is None else {}),
        "annealing_point_c": glass.annealing_point_c,
        "joins_c": joins_c(glass),
        "strain_point_c": glass.strain_point_c,
        "uncertainty": {
            "annealing_point_k": uncertainty.annealing_point_k,
            "annealing_point_above_k": uncertainty.annealing_point_up_k,
            "conductivity_share": uncertainty.conductivity_share,
            "thermocouple_k": uncertainty.thermocouple_k,
        },
        "is_surely_joined": judged.is_surely_joined,
        "hottest_c": judged.hottest_c,
        "planned_c": judged.request.planned.peak_c if judged.request.planned else None,
        "kiln_now_c": judged.shown_now_c,
        "options_problem": dict(options_problem),
        "across": across_numbers(judged.request.across, judged.band.across),
        **more,
    }


def across_numbers(
    across: Across | None, band: AcrossBand | None
) -> dict[str, Any] | None:
    """Return what an uneven kiln adds, as it is kept with a verdict or a schedule."""
    if across is None or band is None:
        return None
    return {
        "longest_mm": round(2000 * across.radius_m, 1),
        "edge_k": list(across.edge_k),
        "lead_s": across.lead_s,
        "is_counted": across.is_counted,
        "residual_pa": band.residual_pa.high,
        "cooling_pa": band.cooling_pa.high,
        "dams_residual_pa": band.dams_residual_pa,
        "dams_cooling_pa": band.dams_cooling_pa,
    }


def numbers_of(judgement: Judgement) -> dict[str, Any]:
    """Return a judgement's numbers, whenever they were kept.

    Times count from the first reading, which is `starts_s` after the booking's start.
    What was not judged has only its problem and its number of readings.
    """
    numbers: dict[str, Any] = judgement.numbers
    if KEPT_FORMAT in numbers or judgement.verdict == Judgement.NOT_JUDGED:
        return numbers
    return old_numbers(numbers)


def mpa(band: Mapping[str, float]) -> list[float]:
    """Return a band of Pa as low, middle and high in MPa."""
    return [round(band[name] / MPA, 4) for name in ("low", "middle", "high")]


def old_numbers(old: Mapping[str, Any]) -> dict[str, Any]:
    """Return numbers kept in MPa and from the booking's start, in today's format."""
    starts_s = old["first_s"]
    ready = old["ready_s"]
    return {
        **old,
        "limits": {
            f"{name}_pa": old["limits"][f"{name}_mpa"] * MPA
            for name in ("temporary", "residual", "warning")
        },
        "residual_max_tension_pa": _pascals(old["residual_mpa"]),
        "peak_tension_heating_pa": _pascals(old["heating_mpa"]),
        "peak_tension_cooling_pa": _pascals(old["cooling_mpa"]),
        "retardation_nm_cm": _named(old["retardation_nm_cm"]),
        "peaks": {
            name: {
                "at_s": old[f"{name}_peak"]["at_s"] - starts_s,
                "kiln_c": true_c(old[f"{name}_peak"]["kiln_c"], old["kiln_offset_k"]),
            }
            for name in ("heating", "cooling")
        },
        "glass_now_c": dict(
            zip(("bottom", "middle", "top"), old["glass_now_c"], strict=True)
        ),
        "glass_ready_s": None
        if ready is None
        else _named([at_s - starts_s for at_s in ready]),
        "starts_s": starts_s,
        "lasts_s": old["last_s"] - starts_s,
        "faults": [
            fault
            | {
                "start_s": fault["start_s"] - starts_s,
                "end_s": fault["end_s"] - starts_s,
            }
            for fault in old["faults"]
        ],
        "next": [_old_option(option) for option in old["options"]],
    }


def _old_option(old: Mapping[str, Any]) -> dict[str, Any]:
    has_segments = bool(old["segments"])
    bands = {"residual_max_tension_pa": _pascals(old["residual_mpa"])}
    if has_segments:
        bands["peak_tension_window_pa"] = _pascals(old["to_come_mpa"])
    return {
        **old,
        **bands,
        "schedule": {"start_c": old["start_c"], "segments": old["segments"]}
        if has_segments
        else None,
    }


def _pascals(mpa_values: list[float]) -> dict[str, float]:
    return _named([value * MPA for value in mpa_values])


def _named(values: list[float]) -> dict[str, float]:
    return dict(zip(("low", "middle", "high"), values, strict=True))
