"""The re-anneal computed by the judge, as a proposal, and a piece's tension.

Nothing is computed again here: the segments are the very ones whose outcome the judge's
page shows.
"""

from dataclasses import replace
from typing import Any

from firing.models import Firing, FiringKind, Judgement, ScheduleRule
from firing.physics.designing.annealing_table import row_at_or_above
from firing.physics.formats.design_format import schedule_from_mapping
from firing.physics.judging.what_next import Action
from firing.physics.schedule import Programme
from firing.planning.problem import practice
from firing.readings.selectors.verdict_inputs import judging_of
from firing.schedules.selectors.computed import COMPUTED_SOURCE
from firing.schedules.selectors.physics_slabs import slab_of
from firing.schedules.selectors.programmes import (
    BOTH_FACES,
    TOP_ONLY,
    Proposal,
    load_s_of,
    opening_basis,
    opens_below_c,
    run_in,
)
from firing.schedules.selectors.slabs import last_firing
from firing.schedules.selectors.verdict_numbers import MPA, mpa, numbers_of
from studio.models import Piece


def re_anneal_option(judgement: Judgement) -> dict[str, Any] | None:
    """Return the judge's re-anneal from cold; none if there is none to book.

    While the glass is still hot, the proposal begins in the hot kiln and is not a
    firing of its own.
    """
    if (
        judgement.verdict == Judgement.NOT_JUDGED
        or not numbers_of(judgement)["is_over"]
    ):
        return None
    return option_of(judgement, Action.RE_ANNEAL)


def option_of(judgement: Judgement, action: str) -> dict[str, Any] | None:
    """Return one of the things that can be done from the end of the readings."""
    found: dict[str, Any] | None = next(
        (
            one
            for one in numbers_of(judgement).get("next") or ()
            if one["action"] == action and one["schedule"] is not None
        ),
        None,
    )
    return found


def programme_of_option(option: dict[str, Any], *, start_c: float) -> Programme:
    """Return what to type, from a temperature on."""
    return replace(schedule_from_mapping(option["schedule"]), start_c=start_c)


def propose_re_anneal(firing: Firing, judgement: Judgement) -> Proposal | None:
    """Return the judge's re-anneal as it can be saved and booked; none without one.

    Raises
    ------
    PhysicsProblem
        When the kiln can do it no more.
    """
    option = re_anneal_option(judgement)
    if option is None:
        return None
    numbers, kiln = numbers_of(judgement), firing.kiln
    programme = programme_of_option(option, start_c=practice.ROOM_C)
    soak = next(s for s in programme.segments if s.label == "anneal soak")
    slab = slab_of(
        firing.schedule.glass,
        numbers["thickness_mm"],
        is_dammed=numbers["is_dammed"],
        temporary_pa=numbers["limits"]["temporary_pa"],
    )
    run = run_in(kiln, programme, slab)
    return Proposal(
        kind=FiringKind.RE_ANNEAL,
        rule=ScheduleRule.COMPUTED,
        kiln=kiln,
        glass=firing.schedule.glass,
        thickness_mm=numbers["thickness_mm"],
        asked=programme,
        fitted=programme,
        run=run,
        row=row_at_or_above(numbers["thickness_mm"] / 1000),
        load_s=load_s_of(FiringKind.RE_ANNEAL),
        basis={
            "thickness_mm": numbers["thickness_mm"],
            "anneal_soak_c": soak.target_c,
            "anneal_soak_s": soak.hold_s,
            **opening_basis(run.temperature_c, opens_below_c(kiln, slab)),
            "faces": TOP_ONLY if numbers["is_dammed"] else BOTH_FACES,
            "temporary_limit_mpa": numbers["limits"]["temporary_pa"] / MPA,
            "residual_limit_mpa": numbers["limits"]["residual_pa"] / MPA,
            "warning_mpa": numbers["limits"]["warning_pa"] / MPA,
            "there_mpa": mpa(numbers["residual_max_tension_pa"]),
            "residual_mpa": mpa(option["residual_max_tension_pa"]),
            "on_the_way_mpa": mpa(option["peak_tension_window_pa"]),
            "annealing_point_off_k": numbers["uncertainty"]["annealing_point_k"],
            "annealing_point_above_k": numbers["uncertainty"].get(
                "annealing_point_above_k", numbers["uncertainty"]["annealing_point_k"]
            ),
            "conductivity_off_share": numbers["uncertainty"]["conductivity_share"],
            "thermocouple_off_k": numbers["uncertainty"]["thermocouple_k"],
            "kiln_offset_k": numbers["kiln_offset_k"],
            "engine": numbers["engine"],
            "judged_firing": firing.pk,
            "judged_readings": numbers["readings"],
            "judged_inputs_sha256": judgement.inputs_sha256,
            "source": "Computed by the judge from the readings of the firing "
            f"“{firing.booking.title}”, so the tension that is in the slab counts while "
            f"it is heated. {COMPUTED_SOURCE}",
        },
    )


def judged_of(piece: Piece) -> tuple[Firing, Judgement] | None:
    """Return a piece's last finished slab or fuse firing with its judgement, if any."""
    last = last_firing(piece)
    if last is None:
        return None
    judgement = judging_of(last).judgement
    return None if judgement is None else (last, judgement)
