"""Judges a recorded firing and prints what it did to the glass.

The JSON (SI, the unit in the name of each key; stress in Pa, tension positive; what is
marked [band] is {"low", "middle", "high"} over annealing point, conductivity and
thermocouple; times count from the first reading):

- `format` 1; `verdict` ("within the limits", "not over yet", "readings are missing where
  they matter", "perhaps over a limit", "tension was over the limit", "did not become one
  slab", "did not get hot enough", "must be annealed again", "may have cracked"); `temporary`, `residual` ("within", "perhaps over",
  "over", "over the warning").
- `is_frozen`: all the glass is so cold that its stress stays, otherwise the residual is
  that of a slab kept at the last temperature; `is_certain`: false if readings are
  missing while the glass stiffened; `is_over`: past its hottest and cold; `is_joined`:
  false if sheets never became one.
- `glass`, `thickness_m`, `limits`, `kiln_offset_k`: what was asked for.
- [band] `residual_mid_pa`, `residual_top_pa`, `residual_bottom_pa`,
  `residual_max_tension_pa`, `peak_tension_heating_pa`, `peak_tension_cooling_pa`,
  `peak_tension_window_pa`, `max_temperature_difference_window_k`, `fictive_mean_c`,
  `fictive_spread_k`, `retardation_nm_cm`; the window is the whole record.
- `peaks` {`heating`, `cooling`}: {`tension_pa`, `at_s`, `height_m` above the bottom
  face, `kiln_c`} of the middle case.
- `across`, with `--longest-side`: as in `design_schedule`.
- `glass_now_c` {`bottom`, `middle`, `top`} at the last reading; `glass_ready_s` [band or
  null]: when all the glass is within 2 K of the opening temperature.
- `readings`, `spikes` and `broken_readings` (left out), `noise_k`, `starts_s`, `lasts_s`.
- `faults` [{`kind` (gap, broken thermocouple, cut, overshoot, not reached, short hold, too fast, late),
  `segment`, `start_s`, `end_s`, `start_c`, `end_c`, `amount`}], see
  `firing.physics.judging.plan_following.Fault`; `holds` and `rates` against the plan. All but
  gaps need `--schedule`.
- `next` [{`action`, `is_recommended`, `is_within`, `temporary`, `residual`, `lasts_s`,
  `schedule`, and the [band] keys of record and future together, the window being the
  future}]: empty with `--no-next`.
- `history` {`time_s`, `kiln_c`, `bottom_c`, `middle_c`, `top_c`, `tension_pa`}: for a
  chart; the tension is the largest anywhere in the slab.
- `read_as`: how the file was read; `seconds`.
"""

import json
import time
from argparse import ArgumentParser
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand

from firing.controller_log import ControllerLog, LogProblem, read_log
from firing.management.physics_arguments import (
    ACROSS,
    across,
    add_offset,
    add_slab,
    bad_input,
    read,
    shown,
)
from firing.physics.designing.annealing_table import ROWS
from firing.physics.designing.request import STACKS
from firing.physics.formats.design_format import (
    judgement_as_mapping,
    schedule_from_mapping,
)
from firing.physics.glass.properties import GlassProblem
from firing.physics.glass.viscosity import joins_c
from firing.physics.judging.verdict import JudgeRequest, judge
from firing.physics.judging.what_next import what_next
from firing.physics.kiln.offset import LARGEST_OFFSET_K
from firing.physics.schedule import PhysicsProblem, Programme
from firing.physics.slab.input import THINNEST_M, LooseStack
from firing.physics.slab.warm import warm_up
from studio.errors import StudioError

# Only differences of time count here; an elapsed time needs some beginning.
SOME_START = datetime(2000, 1, 1, tzinfo=UTC)


class Command(BaseCommand):
    """``python3 manage.py judge_firing FILE --thickness "50 mm" --glass NAME --json``."""

    help = (
        "Compute from a controller's or logger's readings what a slab went through, "
        "and what to do next. Bad input: status 2 and one line that names the option."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("readings", help="the log, a CSV file")
        add_slab(parser)
        parser.add_argument(
            "--schedule",
            help="what was planned: a JSON file of design_schedule, or its schedule",
        )
        parser.add_argument(
            "--unit", choices=("C", "F"), help="scale of the log, if it does not say"
        )
        parser.add_argument(
            "--elapsed-unit",
            choices=("s", "min", "h"),
            help="unit of elapsed times, if the log does not say",
        )
        parser.add_argument(
            "--date-order", choices=("dmy", "mdy"), help="if the log does not tell"
        )
        parser.add_argument("--column", help="the temperature's column, name or number")
        parser.add_argument("--zone", default=ZoneInfo("UTC"), type=read(_zone))
        add_offset(parser)
        parser.add_argument(
            "--no-next", action="store_true", help="leave out what to do next"
        )

    def handle(self, *_: object, **options: Any) -> None:
        began = time.perf_counter()
        try:
            warm_up()
            log = _log(options)
            judged = judge(_request(options, log))
            options_next = () if options["no_next"] else what_next(judged)
        except StudioError as problem:
            raise bad_input(problem, _option_of(problem, options)) from problem
        seconds = time.perf_counter() - began
        result = judgement_as_mapping(judged, options_next, seconds=seconds)
        result["read_as"] = log.description
        if options["json"]:
            self.stdout.write(json.dumps(result, indent=2))
            return
        for key, value in result.items():
            if key not in {"history", "next"}:
                self.stdout.write(f"{key}: {shown(value)}")


def _request(options: dict[str, Any], log: ControllerLog) -> JudgeRequest:
    is_stack = (
        options["kind"] in STACKS and options["thickness"] >= 2 * options["sheet"]
    )
    return JudgeRequest(
        time_s=log.readings.time_s,
        temperature_c=log.readings.temperature_c,
        glass=options["glass"],
        thickness_m=options["thickness"],
        boundary=options["boundary"],
        bending=options["bending"],
        planned=_schedule(options["schedule"]),
        limits=options["limits"],
        kiln_offset_k=options["offset"],
        across=across(options),
        stack=LooseStack(sheet_m=options["sheet"], joins_c=joins_c(options["glass"]))
        if is_stack
        else None,
        opening_c=options["opening"],
    )


def _option_of(problem: StudioError, options: dict[str, Any]) -> str:
    """Return the option, or the argument, that a judgement failed for."""
    if isinstance(problem, GlassProblem):
        return "--glass"
    if not THINNEST_M <= options["thickness"] <= ROWS[-1].thickness_m:
        return "--thickness"
    if isinstance(problem, PhysicsProblem) and problem.refusal.cause in ACROSS:
        return "--longest-side, --edge"
    if not abs(options["offset"]) <= LARGEST_OFFSET_K:
        return "--offset"
    return "readings"


def _log(options: dict[str, Any]) -> ControllerLog:
    try:
        return read_log(
            _bytes(options["readings"], "readings"),
            started_at=SOME_START,
            zone=options["zone"],
            unit=options["unit"],
            date_order=options["date_order"],
            elapsed_unit=options["elapsed_unit"],
            temperature_column=options["column"],
        ).whole()
    except LogProblem as problem:
        lines = "; ".join(f"line {line}: {what}" for line, what in problem.problems[:1])
        raise bad_input(StudioError(f"{problem} {lines}"), "readings") from problem


def _schedule(name: str | None) -> Programme | None:
    if name is None:
        return None
    try:
        return schedule_from_mapping(json.loads(_bytes(name, "--schedule")))
    except (StudioError, ValueError, RecursionError) as problem:
        raise bad_input(problem, "--schedule") from problem


def _bytes(name: str, option: str) -> bytes:
    try:
        return Path(name).read_bytes()
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or "it is no name of a file"
        raise bad_input(
            StudioError(f"{name} cannot be read: {reason}."), option
        ) from problem


def _zone(text: str) -> ZoneInfo:
    try:
        return ZoneInfo(text)
    except (OSError, ValueError, KeyError):
        raise ValueError(f"“{text}” is no time zone, such as Europe/Berlin.") from None
