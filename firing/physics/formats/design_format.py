"""Designs, judgements and schedules as plain mappings, for the commands' JSON.

Every key has its unit in its name; the commands explain the keys.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from firing.physics.designing.band import Band, BandedResult
from firing.physics.designing.design import Computed, Design
from firing.physics.formats.firing_format import FormatProblem
from firing.physics.judging.verdict import JudgedFiring
from firing.physics.judging.what_next import Option, verdict_from_here
from firing.physics.kiln.offset import true_c
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem, Programme, Segment
from firing.physics.slab.result import FiringResult

FORMAT = 1
MOST_SEGMENTS = 200


def bands_as_mapping(band: BandedResult) -> dict[str, dict[str, float]]:
    """Return a firing's bands under the keys of the simulation's results.

    Parameters
    ----------
    band : BandedResult
        Every case of a firing.

    Returns
    -------
    dict
        Per key {low, middle, high}; Pa (tension positive), K, °C or nm/cm as the key's
        ending says.

    References
    ----------
    The project's own format.
    """
    results = [result for _, result in band.cases]

    def over(values: Sequence[float]) -> dict[str, float]:
        return {"low": min(values), "middle": values[0], "high": max(values)}

    same = (
        "residual_mid_pa",
        "residual_top_pa",
        "residual_bottom_pa",
        "fictive_mean_c",
        "fictive_spread_k",
    )
    return {
        **{key: over([getattr(result, key) for result in results]) for key in same},
        "residual_max_tension_pa": asdict(band.residual_tension_pa),
        "retardation_nm_cm": asdict(band.retardation_nm_cm),
        "peak_tension_heating_pa": asdict(band.heating_pa),
        "peak_tension_cooling_pa": asdict(band.cooling_pa),
        "peak_tension_window_pa": asdict(band.window_pa),
        "max_temperature_difference_window_k": asdict(band.difference_k),
        **({"across": asdict(band.across)} if band.across else {}),
    }


def schedule_as_mapping(schedule: Programme) -> dict[str, Any]:
    """Return a schedule; a rate of null is as fast as the kiln can.

    Parameters
    ----------
    schedule : Programme
        The programme.

    References
    ----------
    The project's own format.
    """
    return {
        "start_c": schedule.start_c,
        "segments": [
            {
                "label": segment.label,
                "rate_c_per_h": segment.rate_c_per_h,
                "target_c": segment.target_c,
                "hold_s": segment.hold_s,
            }
            for segment in schedule.segments
        ],
    }


def schedule_from_mapping(given: object) -> Programme:
    """Read a schedule, or the one that a design proposes.

    Parameters
    ----------
    given : object
        Parsed JSON: {"start_c", "segments": [{"label", "rate_c_per_h", "target_c",
        "hold_s"}]}, or an object that holds this under "schedule".

    Raises
    ------
    PhysicsProblem
        If a key is missing or wrong; the message names it.

    References
    ----------
    The project's own format.
    """
    if isinstance(given, Mapping) and "schedule" in given:
        given = given["schedule"]
    if not isinstance(given, Mapping):
        raise FormatProblem("schedule", "must be an object, in curly brackets.")
    rows = given.get("segments")
    if not isinstance(rows, list) or not 0 < len(rows) <= MOST_SEGMENTS:
        raise FormatProblem("schedule.segments", "is a list of 1 to 200 segments.")
    return Programme(
        start_c=_number(given, "start_c", "schedule"),
        segments=tuple(_segment(row, place) for place, row in enumerate(rows)),
    )


def design_as_mapping(found: Design, *, seconds: float) -> dict[str, Any]:
    """Return a design in the format's words.

    Parameters
    ----------
    found : Design
        From `design`.
    seconds : float
        How long it took [s]; the caller has the clock.

    References
    ----------
    The project's own format.
    """
    request, proposed = found.request, found.proposed
    return {
        "format": FORMAT,
        "kind": str(request.kind),
        "glass": request.glass.name,
        "thickness_m": request.thickness_m,
        "bending": str(request.bending),
        "limits": limits_as_mapping(request.limits),
        "uncertainty": {
            "annealing_point_k": request.uncertainty.annealing_point_k,
            "conductivity_share": request.uncertainty.conductivity_share,
            "thermocouple_k": request.uncertainty.thermocouple_k,
            "includes_faces_at_kiln_temperature": (
                request.uncertainty.other_boundary is not None
            ),
        },
        "kiln_offset_k": request.kiln_offset_k,
        "floor": None if request.floor is None else str(request.floor),
        "soak_c": found.soak_c,
        "even_through_s": found.evening.through_s,
        "even_across_s": found.evening.across_s,
        **_computed(proposed),
        "kiln_temperature": [
            [float(time_s), float(kiln_c)]
            for time_s, kiln_c in zip(
                proposed.curve.time_s,
                true_c(proposed.curve.temperature_c, request.kiln_offset_k),
                strict=True,
            )
        ],
        "segment_ends_s": list(proposed.curve.segment_ends_s),
        "why": [
            {
                "segment": why.segment,
                "part": str(why.part),
                "reason": str(why.reason),
                "amount": why.amount,
            }
            for why in found.why
        ],
        "compared": [_computed(other) for other in found.compared],
        "cases": [_case(words, result) for words, result in proposed.band.cases],
        "widest_m": found.widest_m,
        "bands_computed": found.bands_computed,
        "seconds": seconds,
    }


def judgement_as_mapping(
    judged: JudgedFiring, options: Sequence[Option], *, seconds: float
) -> dict[str, Any]:
    """Return a judgement and what can be done next in the format's words.

    Parameters
    ----------
    judged : JudgedFiring
        From `judge`.
    options : sequence of Option
        From `what_next`; empty if it was not asked for.
    seconds : float
        How long it took [s]; the caller has the clock.

    References
    ----------
    The project's own format.
    """
    history = judged.history
    return {
        "format": FORMAT,
        **verdict_as_mapping(judged, options),
        "history": {
            "time_s": history.time_s.tolist(),
            "kiln_c": history.kiln_c.tolist(),
            "bottom_c": history.bottom_c.tolist(),
            "middle_c": history.middle_c.tolist(),
            "top_c": history.top_c.tolist(),
            "tension_pa": history.tension_pa.tolist(),
        },
        "seconds": seconds,
    }


def verdict_as_mapping(
    judged: JudgedFiring, options: Sequence[Option]
) -> dict[str, Any]:
    """Return the numbers of a verdict, in Pa and seconds from the first reading on.

    The one format of them: of the command's file and of what a studio keeps.

    Parameters
    ----------
    judged : JudgedFiring
        From `judge`.
    options : sequence of Option
        From `what_next`.

    References
    ----------
    The project's own format.
    """
    record, request = judged.record, judged.request
    bottom_c, middle_c, top_c = judged.glass_now_c
    followed = judged.followed
    return {
        "verdict": str(verdict_from_here(judged, tuple(options))),
        "temporary": str(judged.temporary),
        "residual": str(judged.residual),
        "is_frozen": judged.is_frozen,
        "is_certain": judged.is_certain,
        "is_over": judged.is_over,
        "is_on_its_way_up": judged.is_on_its_way_up,
        "is_joined": judged.is_joined,
        "glass": request.glass.name,
        "thickness_m": request.thickness_m,
        "limits": limits_as_mapping(request.limits),
        "kiln_offset_k": request.kiln_offset_k,
        **bands_as_mapping(judged.band),
        "peaks": {
            name: {
                "tension_pa": peak.tension_pa,
                "at_s": peak.at_s,
                "height_m": peak.height_m,
                "kiln_c": peak.kiln_c,
            }
            for name, peak in (
                ("heating", judged.band.middle.heating),
                ("cooling", judged.band.middle.cooling),
            )
        },
        "glass_now_c": {"bottom": bottom_c, "middle": middle_c, "top": top_c},
        "glass_ready_s": band_as_mapping(judged.ready_s),
        "readings": record.readings,
        "spikes": record.spikes,
        "broken_readings": record.broken_readings,
        "noise_k": record.noise_k,
        "starts_s": record.starts_s,
        "lasts_s": record.lasts_s,
        "faults": [
            {
                "kind": str(fault.kind),
                "segment": fault.segment,
                "start_s": fault.start_s,
                "end_s": fault.end_s,
                "start_c": fault.start_c,
                "end_c": fault.end_c,
                "amount": fault.amount,
            }
            for fault in judged.faults
        ],
        "holds": [
            {
                "segment": hold.segment,
                "target_c": hold.target_c,
                "planned_s": hold.planned_s,
                "held_s": hold.held_s,
                "missed_s": hold.missed_s,
            }
            for hold in (followed.holds if followed else ())
        ],
        "rates": [
            {
                "segment": rate.segment,
                "is_cooling": rate.is_cooling,
                "planned_c_per_h": rate.planned_c_per_h,
                "fastest_c_per_h": rate.fastest_c_per_h,
                "exceeded_s": rate.exceeded_s,
            }
            for rate in (followed.rates if followed else ())
        ],
        "next": [_option(option) for option in options],
    }


def limits_as_mapping(limits: Limits) -> dict[str, float]:
    """Return limits [Pa].

    Parameters
    ----------
    limits : Limits
        The limits.

    References
    ----------
    The project's own format.
    """
    return {
        "temporary_pa": limits.temporary_pa,
        "residual_pa": limits.residual_pa,
        "warning_pa": limits.warning_pa,
    }


def band_as_mapping(band: Band | None) -> dict[str, float] | None:
    """Return a band, or None where there is none.

    Parameters
    ----------
    band : Band or None
        The band.

    References
    ----------
    The project's own format.
    """
    if band is None:
        return None
    return {"low": band.low, "middle": band.middle, "high": band.high}


def _computed(computed: Computed) -> dict[str, Any]:
    return {
        "rule": str(computed.rule),
        "row_m": computed.row_m,
        "kiln_s": computed.kiln_s,
        "anneal_s": computed.anneal_s,
        "glass_ready_s": band_as_mapping(computed.ready_s),
        "is_within": computed.is_within,
        **bands_as_mapping(computed.band),
        "schedule": schedule_as_mapping(computed.schedule),
    }


def _case(words: str, result: FiringResult) -> dict[str, Any]:
    return {
        "case": words,
        "residual_max_tension_pa": result.residual_max_tension_pa,
        "peak_tension_heating_pa": result.heating.tension_pa,
        "peak_tension_cooling_pa": result.cooling.tension_pa,
    }


def _option(option: Option) -> dict[str, Any]:
    schedule = option.schedule
    return {
        "action": str(option.action),
        "is_recommended": option.is_recommended,
        "is_within": option.is_within,
        "temporary": str(option.temporary),
        "residual": str(option.residual),
        "lasts_s": option.lasts_s,
        **bands_as_mapping(option.band),
        "schedule": None if schedule is None else schedule_as_mapping(schedule),
    }


def _segment(row: object, place: int) -> Segment:
    name = f"schedule.segments[{place}]"
    if not isinstance(row, Mapping):
        raise FormatProblem(name, "must be an object, in curly brackets.")
    is_free = row.get("rate_c_per_h") is None
    try:
        return Segment(
            label=str(row.get("label", "")),
            rate_c_per_h=None if is_free else _number(row, "rate_c_per_h", name),
            target_c=_number(row, "target_c", name),
            hold_s=_number(row, "hold_s", name) if "hold_s" in row else 0.0,
        )
    except FormatProblem:
        raise
    except PhysicsProblem as problem:
        raise FormatProblem(name, str(problem)) from problem


def _number(row: Mapping[str, Any], key: str, path: str) -> float:
    value = row.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise FormatProblem(f"{path}.{key}", "must be a number.")
    try:
        return float(value)
    except OverflowError:
        raise FormatProblem(f"{path}.{key}", "must be a finite number.") from None
