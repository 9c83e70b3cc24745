"""Designs a schedule and prints what it does to the glass.

The JSON (SI, the unit in the name of each key; stress in Pa, tension positive; what is
marked [band] is {"low", "middle", "high"} over the stated uncertainty):

- `format` 1; `kind`, `glass`, `thickness_m`, `bending`, `limits` {`temporary_pa`,
  `residual_pa`, `warning_pa`}, `uncertainty`, `kiln_offset_k`, `floor` ("table row" or
  null): what was asked for.
- `schedule` {`start_c`, `segments` [{`label`, `rate_c_per_h` (null: as fast as the kiln
  can), `target_c`, `hold_s`}]}: as fitted to the controller and typed there, so less the
  kiln's offset. `kiln_temperature` [[s, °C], ...]: how hot the kiln then is, as
  `simulate_firing` takes it. `segment_ends_s`.
- `soak_c`, true; `even_through_s`, `even_across_s`: how long the soak must be for the slab to
  be even to 2 K through and across.
- `kiln_s`: from cold to the opening temperature; `anneal_s`: of that, from the start of
  the soak; `glass_ready_s` [band or null]: when all the glass is within 2 K of the
  opening temperature.
- [band] `residual_mid_pa`, `residual_top_pa`, `residual_bottom_pa`,
  `residual_max_tension_pa`, `peak_tension_heating_pa`, `peak_tension_cooling_pa`,
  `peak_tension_window_pa`, `max_temperature_difference_window_k`, `fictive_mean_c`,
  `fictive_spread_k`, `retardation_nm_cm`; the window is the cooling after the soak.
  `is_within`: whether the tops of the bands are within the limits.
- `across`, with `--longest-side`: what an uneven kiln adds, in the bands above, [band]
  `residual_pa`, `heating_pa`, `cooling_pa`, and `dams_residual_pa`, `dams_cooling_pa`, a
  bound of what heat through dams would, in no band. `widest_m`: how long a slab may be
  where no schedule keeps the limits, else null.
- `cases`: each computed case, with what was varied in words.
- `why` [{`segment`, `part` (rate, hold, target), `reason`, `amount`}]: what governs each
  segment; the amount is a rate [°C/h], a hold [s], a shift [K] or the top of a band
  [Pa], see `firing.physics.designing.reasons.Why`.
- `compared`: the table's row, the next thicker row and the exact rule, each with
  `rule`, `row_m` and the keys above from `kiln_s` to `schedule`.
- `bands_computed`, `seconds`.
"""

import json
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from firing.management.physics_arguments import (
    ACROSS,
    across,
    add_offset,
    add_slab,
    bad_input,
    read,
    shown,
    temperature_c,
)
from firing.physics.designing.annealing_table import ROWS
from firing.physics.designing.design import design
from firing.physics.designing.request import Controller, DesignRequest, Floor
from firing.physics.formats.design_format import design_as_mapping
from firing.physics.glass.properties import GlassProblem
from firing.physics.kiln.offset import LARGEST_OFFSET_K
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.warm import warm_up
from studio.errors import StudioError
from studio.units import TemperatureUnit


class Command(BaseCommand):
    """``python3 manage.py design_schedule --thickness "60 mm" --glass NAME --json``."""

    help = (
        "Design the schedule of the fewest kiln hours whose computed stresses stay "
        "within the limits, never faster than the published table's row unless "
        "--no-floor. Bad input: status 2 and one line that names the option."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_slab(parser)
        add_offset(parser)
        parser.add_argument(
            "--no-floor",
            action="store_true",
            help="also design without the published table",
        )
        parser.add_argument(
            "--soak", type=read(temperature_c), help="anneal soak that must be kept"
        )
        parser.add_argument("--start", default=20.0, type=read(temperature_c))
        parser.add_argument(
            "--unit",
            default=TemperatureUnit.C,
            type=read(_unit),
            help="scale of the controller: C or F",
        )
        parser.add_argument("--rate-step", default=0.1, type=float)
        parser.add_argument("--segments", default=16, type=int)

    def handle(self, *_: object, **options: Any) -> None:
        began = time.perf_counter()
        try:
            warm_up()
            found = design(_request(options))
        except StudioError as problem:
            raise bad_input(problem, _option_of(problem, options)) from problem
        seconds = time.perf_counter() - began
        result = design_as_mapping(found, seconds=seconds)
        if options["json"]:
            self.stdout.write(json.dumps(result, indent=2))
            return
        for key, value in result.items():
            if key not in {"kiln_temperature", "compared", "cases"}:
                self.stdout.write(f"{key}: {shown(value)}")


def _request(options: dict[str, Any]) -> DesignRequest:
    return DesignRequest(
        glass=options["glass"],
        thickness_m=options["thickness"],
        kind=options["kind"],
        boundary=options["boundary"],
        bending=options["bending"],
        limits=options["limits"],
        soak_c=options["soak"],
        sheet_m=options["sheet"],
        start_c=options["start"],
        opening_c=options["opening"],
        controller=Controller(
            unit=options["unit"],
            segments_available=options["segments"],
            rate_step=options["rate_step"],
        ),
        floor=None if options["no_floor"] else Floor.TABLE_ROW,
        kiln_offset_k=options["offset"],
        across=across(options),
    )


def _unit(text: str) -> TemperatureUnit:
    try:
        return TemperatureUnit(text.upper())
    except ValueError:
        raise ValueError(f"“{text}” is neither C nor F.") from None


def _option_of(problem: StudioError, options: dict[str, Any]) -> str:
    """Return the option, or the options, that a design failed for."""
    if isinstance(problem, GlassProblem):
        return "--glass"
    if not options["rate_step"] > 0:
        return "--rate-step"
    if options["thickness"] > ROWS[-1].thickness_m:
        return "--thickness"
    if isinstance(problem, PhysicsProblem) and problem.refusal.cause in ACROSS:
        return "--longest-side, --edge"
    if not abs(options["offset"]) <= LARGEST_OFFSET_K:
        return "--offset"
    if options["soak"] is not None:
        return "--soak"
    return "--thickness, --limits"
