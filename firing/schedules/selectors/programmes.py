"""What the rules of thumb propose for glass in a kiln, before anything is stored.

Translates kilns and glasses into the physics' values; nothing is written here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from firing.drawings.curves import thin_out
from firing.models import FiringKind, Schedule, ScheduleRule
from firing.physics.designing import annealing_table, programmes
from firing.physics.designing.annealing_table import AnnealRow
from firing.physics.designing.programmes import ProcessHold
from firing.physics.kiln import opening
from firing.physics.kiln.curve import WITHIN_K
from firing.physics.kiln.model import KilnModel, KilnRun, follow
from firing.physics.kiln.offset import shown_c
from firing.physics.kiln.opening import Slab, until_out
from firing.physics.kiln.thinning import thin
from firing.physics.limits import TEMPORARY_PA
from firing.physics.refusals import Cause
from firing.physics.schedule import (
    FloatArray,
    PhysicsProblem,
    Programme,
    fit_to_controller,
)
from firing.planning.problem import practice
from firing.schedules.selectors.physics_slabs import slab_of
from firing.schedules.selectors.schedules import programme_of
from studio.models import Glass, Kiln
from studio.units import TemperatureUnit

# At most twice this many points, and two more: a stored curve stays under 200.
CURVE_COLUMNS = 98
MINUTE_S = 60.0
# Runs kept in memory, about 70 kB each.
RUNS_KEPT = 256
WORTH_SAYING_S = 15 * MINUTE_S
# What a schedule's basis says of its faces.
TOP_ONLY, BOTH_FACES = "the top only", "both faces"

ROWS = {
    ScheduleRule.NEXT_ROW: annealing_table.next_thicker_row,
    ScheduleRule.ROW: annealing_table.row_at_or_above,
    ScheduleRule.EXACT: annealing_table.exact_rule,
}
TABLE_KINDS = (
    FiringKind.FULL_FUSE,
    FiringKind.TACK_FUSE,
    FiringKind.SLUMP,
    FiringKind.RE_ANNEAL,
)
TABLE_SOURCE = (
    "A fusing-glass maker's published annealing table for thick slabs (rows from "
    "memory, partly confirmed on a trade page); the anneal soak is this glass's own."
)
HEAT_UP_SOURCE = "Heating up: common practice, no source."


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A programme for a glass in a kiln, and how the kiln follows it."""

    kind: str
    rule: str
    kiln: Kiln
    glass: Glass
    thickness_mm: float
    asked: Programme
    fitted: Programme
    run: KilnRun
    row: AnnealRow | None
    load_s: float
    basis: dict[str, Any]

    @property
    def booking_s(self) -> float:
        """How long the kiln is held: loading, the cycle, unloading."""
        return held_s(curve_points(self.run, load_s=self.load_s))

    @property
    def opens_after_s(self) -> float:
        """From the start of loading to the opening, in full minutes as it is booked."""
        return curve_points(self.run, load_s=self.load_s)[-1][0]

    @property
    def late_s(self) -> float:
        """How much longer the kiln takes than the programme asks; 0 if hardly."""
        late_s = sum(self.run.segment_late_s)
        return late_s if late_s > WORTH_SAYING_S else 0.0


def kiln_model(kiln: Kiln) -> KilnModel:
    """Return a kiln as the physics' value."""
    return KilnModel(
        power_w=kiln.power_w,
        max_temperature_c=kiln.max_temperature_c,
        ambient_c=practice.ROOM_C,
        holding_fraction=kiln.holding_fraction,
        cooling_time_constant_s=kiln.cooling_time_constant_s,
    )


def run_in(kiln: Kiln, programme: Programme, slab: Slab) -> KilnRun:
    """Follow a programme until its glass may be taken out.

    Raises
    ------
    PhysicsProblem
        When the kiln cannot do it.
    """
    model = kiln_model(kiln)
    return _until_out(programme, model, kiln.opening_temperature_c, kiln.offset_k, slab)


def run_of(kiln: Kiln, schedule: Schedule) -> KilnRun:
    """Follow a stored schedule until its glass may be taken out.

    Raises
    ------
    PhysicsProblem
        When the kiln cannot do it.
    """
    return run_in(kiln, programme_of(schedule), slab_in(schedule))


def slab_in(schedule: Schedule) -> Slab:
    """Return what a stored schedule is for.

    Raises
    ------
    GlassProblem
        When the numbers of its glass contradict each other.
    """
    limit_mpa = schedule.basis.get("temporary_limit_mpa")
    return slab_of(
        schedule.glass,
        schedule.thickness_mm,
        is_dammed=schedule.basis.get("faces") != BOTH_FACES,
        temporary_pa=TEMPORARY_PA if limit_mpa is None else limit_mpa * 1e6,
    )


def opens_below_c(kiln: Kiln, slab: Slab) -> float:
    """Return below what temperature a slab may be taken out of a kiln [°C]."""
    return opening.opens_below_c(slab, kiln.opening_temperature_c, practice.ROOM_C)


def opening_basis(shown_c: FloatArray, glass_opens_c: float) -> dict[str, float]:
    """Return what a schedule keeps of its opening: what the kiln shows, and the glass."""
    return {
        "opening_temperature_c": round(float(shown_c[-1]), 1),
        "glass_opens_c": round(glass_opens_c, 1),
    }


@lru_cache(maxsize=RUNS_KEPT)
def _until_out(
    programme: Programme,
    kiln: KilnModel,
    opening_c: float,
    offset_k: float,
    slab: Slab,
) -> KilnRun:
    """Follow a programme once: a promise asks for the same few each time."""
    run = _followed(programme, kiln, opening_c)
    few = thin(run.time_s, run.temperature_c, within_k=WITHIN_K)
    time_s, temperature_c = until_out(
        few.time_s,
        few.temperature_c,
        slab,
        opening_c=opening.opens_below_c(slab, opening_c, kiln.ambient_c),
        kiln=kiln,
        kiln_offset_k=offset_k,
    )
    later = time_s > run.time_s[-1]
    run = replace(
        run,
        time_s=np.append(run.time_s, time_s[later]),
        temperature_c=np.append(run.temperature_c, temperature_c[later]),
        ready_s=float(time_s[-1]),
    )
    return _unwritable(run)


@lru_cache(maxsize=RUNS_KEPT)
def _followed(programme: Programme, kiln: KilnModel, until_c: float) -> KilnRun:
    """Follow a programme once, whatever lies in the kiln."""
    return _unwritable(follow(programme, kiln, until_c=until_c))


def _unwritable(run: KilnRun) -> KilnRun:
    for curve in (run.time_s, run.temperature_c):
        curve.flags.writeable = False
    return run


def run_as_it_is_now(kiln: Kiln, schedule: Schedule) -> KilnRun | None:
    """Follow a stored schedule; none if the kiln was changed and cannot any more."""
    try:
        return run_of(kiln, schedule)
    except PhysicsProblem:
        return None


def kiln_run(kiln: Kiln, programme: Programme) -> KilnRun | None:
    """Follow a programme as far as the kiln alone goes; none if it cannot do it."""
    try:
        return _followed(programme, kiln_model(kiln), kiln.opening_temperature_c)
    except PhysicsProblem:
        return None


def fit(programme: Programme, kiln: Kiln) -> Programme:
    """Return what to type so that the glass gets a programme, as the kiln takes it.

    Targets are lowered by how much hotter the kiln is than it shows. The last one,
    where the kiln is opened, is already a shown temperature.

    Raises
    ------
    PhysicsProblem
        When it has too few segments or no rate that slow.
    """
    *rest, last = programme.segments
    typed = [
        replace(one, target_c=shown_c(one.target_c, kiln.offset_k)) for one in rest
    ]
    return fit_to_controller(
        replace(programme, segments=(*typed, last)),
        unit=TemperatureUnit(kiln.controller_unit),
        segments_available=kiln.controller_segments,
        slowest_c_per_h=kiln.slowest_rate_c_per_h,
        fastest_c_per_h=kiln.fastest_rate_c_per_h,
        rate_step=kiln.rate_step,
    )


def load_s_of(kind: str) -> float:
    """Return how long loading takes before the controller is started."""
    is_sheets = kind == FiringKind.ENAMEL
    return practice.LOAD_SHEETS_S if is_sheets else practice.LOAD_STACK_S


def propose_stack(
    *, kind: str, rule: str, thickness_mm: float, glass: Glass, kiln: Kiln
) -> Proposal:
    """Propose a fuse, a slump or a re-anneal, by one of the three rules.

    Raises
    ------
    PhysicsProblem
        When the table, the controller or the kiln does not reach that far, or the kind
        of firing is one that the table has no rule for.
    """
    if kind not in TABLE_KINDS:
        raise PhysicsProblem(Cause.NO_TABLE_RULE, kind=FiringKind(kind).label.lower())
    row = ROWS[ScheduleRule(rule)](thickness_mm / 1000)
    hold = {
        FiringKind.FULL_FUSE: ProcessHold(
            temperature_c=glass.full_fuse_c, hold_s=programmes.FULL_FUSE_HOLD_S
        ),
        FiringKind.TACK_FUSE: programmes.TACK_FUSE,
        FiringKind.SLUMP: programmes.SLUMP,
    }.get(FiringKind(kind))
    common = {
        "soak_c": glass.anneal_soak_c,
        "start_c": practice.ROOM_C,
        "end_c": kiln.opening_temperature_c,
    }
    if hold is None:
        asked = programmes.re_anneal_schedule(thickness_mm / 1000, row, **common)
    elif kind == FiringKind.SLUMP:
        asked = programmes.slump_schedule(
            thickness_mm / 1000, row, process=hold, **common
        )
    elif kind == FiringKind.TACK_FUSE:
        asked = programmes.tack_fuse_schedule(
            thickness_mm / 1000, row, process=hold, **common
        )
    else:
        asked = programmes.full_fuse_schedule(
            thickness_mm / 1000, row, process=hold, **common
        )
    basis = {
        "thickness_mm": thickness_mm,
        "rule_thickness_mm": row.thickness_m * 1000,
        "anneal_soak_c": glass.anneal_soak_c,
        "anneal_soak_s": row.soak_s,
        "cooling_1_c_per_h": row.rates_c_per_h.first,
        "cooling_2_c_per_h": row.rates_c_per_h.second,
        "final_cooling_c_per_h": row.rates_c_per_h.final,
        "source": f"{TABLE_SOURCE} {HEAT_UP_SOURCE}",
    }
    if hold is not None:
        basis["process_c"] = hold.temperature_c
        basis["process_hold_s"] = hold.hold_s
    return _proposal(
        kind=kind,
        rule=rule,
        kiln=kiln,
        glass=glass,
        thickness_mm=thickness_mm,
        asked=asked,
        row=row,
        load_s=load_s_of(kind),
        basis=basis,
    )


def propose_enamel(*, glass: Glass, kiln: Kiln) -> Proposal:
    """Propose the standing enamel programme for single sheets of a glass.

    Raises
    ------
    PhysicsProblem
        When the sheets are too thick for it, or the kiln cannot do it.
    """
    process = ProcessHold(temperature_c=glass.enamel_c, hold_s=programmes.ENAMEL_HOLD_S)
    asked = programmes.enamel_schedule(
        glass.sheet_thickness_mm / 1000,
        soak_c=glass.anneal_soak_c,
        process=process,
        start_c=practice.ROOM_C,
        end_c=kiln.opening_temperature_c,
    )
    return _proposal(
        kind=FiringKind.ENAMEL,
        rule=ScheduleRule.STANDARD,
        kiln=kiln,
        glass=glass,
        thickness_mm=glass.sheet_thickness_mm,
        asked=asked,
        row=None,
        load_s=load_s_of(FiringKind.ENAMEL),
        basis={
            "thickness_mm": glass.sheet_thickness_mm,
            "process_c": glass.enamel_c,
            "process_hold_s": process.hold_s,
            "anneal_soak_c": glass.anneal_soak_c,
            "source": "Enamel on single sheets: common practice, no source.",
        },
    )


def _proposal(
    *,
    kind: str,
    rule: str,
    kiln: Kiln,
    glass: Glass,
    thickness_mm: float,
    asked: Programme,
    row: AnnealRow | None,
    load_s: float,
    basis: dict[str, Any],
) -> Proposal:
    fitted = fit(asked, kiln)
    slab = slab_of(glass, thickness_mm)
    run = run_in(kiln, fitted, slab)
    basis = basis | opening_basis(run.temperature_c, opens_below_c(kiln, slab))
    if kiln.offset_k:
        basis = basis | {"kiln_offset_k": kiln.offset_k}
    return Proposal(
        kind=kind,
        rule=rule,
        kiln=kiln,
        glass=glass,
        thickness_mm=thickness_mm,
        asked=asked,
        fitted=fitted,
        run=run,
        row=row,
        load_s=load_s,
        basis=basis,
    )


def curve_points(run: KilnRun, *, load_s: float) -> list[list[float]]:
    """Return a run as it is stored with a booking: [[s from its start, °C], ...].

    The last point is the full minute at which the kiln may be opened.
    """
    kept = thin_out(run.time_s, run.temperature_c, columns=CURVE_COLUMNS)
    points = [
        [round(float(t) + load_s, 1), round(float(c), 1)]
        for t, c in zip(run.time_s[kept], run.temperature_c[kept], strict=True)
    ]
    points[-1][0] = math.ceil((run.ready_s + load_s) / MINUTE_S) * MINUTE_S
    return [[0.0, points[0][1]], *points] if load_s else points


def held_s(curve: Sequence[Sequence[float]]) -> float:
    """Return how long a kiln is held for a stored curve and the unloading after it."""
    return curve[-1][0] + practice.UNLOAD_S
