"""What an exported studio takes along from the firing app, and its spreadsheet lists."""

from datetime import datetime
from typing import Any

from firing.firings import documents
from firing.kiln_time import week_sheet
from firing.loads.selectors.planned import standing_plan
from firing.models import (
    Booking,
    CalendarLink,
    Firing,
    FiringEvent,
    FiringWatch,
    FuseAnneal,
    Judgement,
    KilnChange,
    KilnComparison,
    KilnEvenness,
    KilnLogger,
    KilnUpkeep,
    LoadItem,
    Plan,
    PlannedFiring,
    PlannedItem,
    PlannedWork,
    PlanState,
    PushedCorrection,
    Reading,
    ReadingImport,
    Schedule,
    ScheduleSegment,
    SentFile,
    StressLimits,
    TypedProgramme,
)
from firing.plans.selectors.fact_kinds import facts_as_json, fingerprint
from firing.plans.selectors.facts import plan_facts
from firing.plans.services.watch import order_look
from firing.readings import verdict_sheet
from firing.records import record_paper
from studio.keyed_tokens import new_nonce
from studio.models import Piece, Studio
from studio.selectors.kinds import (
    Keys,
    carry,
    leave,
    name_paper,
    name_subjects,
    on_arrival,
)
from studio.selectors.lists import add_table, length, plain

# The names under which a stored plan holds keys.
KEYS_IN_A_PLAN = {
    "kiln": "studio.kiln",
    "piece": "studio.piece",
    "layer": "studio.layer",
    "pass": "studio.pass",
    "person": "studio.person",
}


def mend_schedule(schedule: Schedule, keys: Keys) -> bool:
    """Point a re-anneal at the new row of the firing that it was computed from."""
    judged = schedule.basis.get("judged_firing")
    if judged is not None:
        schedule.basis["judged_firing"] = keys["firing.firing"].get(judged)
    return True


def mend_plan(plan: Plan, keys: Keys) -> bool:
    """Keep the standing plan's own option; options only on offer are planned again."""
    if plan.state == PlanState.MAKING:
        plan.state = PlanState.FAILED
    if plan.state == PlanState.READY:
        plan.state = PlanState.REFUSED
    is_standing = plan.state == PlanState.ACCEPTED
    try:
        plan.options = [
            _option(one, keys)
            for one in plan.options
            if is_standing and one["name"] == plan.taken
        ]
    except (KeyError, TypeError, ValueError, AttributeError):
        # It names something that is gone, or was written by an older planner.
        plan.options = []
    return True


def _option(option: dict[str, Any], keys: Keys) -> dict[str, Any]:
    """Return an option with new keys.

    Raises
    ------
    KeyError
        When it holds the key of something that is gone.
    """
    record, pieces = dict(option["record"]), keys["studio.piece"]
    ends = {
        "deliveries": {
            str(pieces[int(key)]): day for key, day in record["deliveries"].items()
        },
        "undelivered": [pieces[key] for key in record["undelivered"]],
    }
    return option | {"record": _renamed(record, keys) | ends, "changes": []}


def _renamed(value: Any, keys: Keys) -> Any:
    if isinstance(value, list):
        return [_renamed(one, keys) for one in value]
    if not isinstance(value, dict):
        return value
    return {
        name: keys[KEYS_IN_A_PLAN[name]][inner]
        if name in KEYS_IN_A_PLAN and inner is not None
        else _renamed(inner, keys)
        for name, inner in value.items()
    }


@on_arrival
def look_at_the_plan(studio: Studio, at: datetime) -> None:
    """Start watching the standing plan again, from the facts as they arrived."""
    plan = standing_plan(studio)
    if plan is None:
        return
    facts = plan_facts(studio, at)
    plan.facts = facts_as_json(facts)
    plan.facts_sha256 = fingerprint(facts)
    plan.save(update_fields=["facts", "facts_sha256"])
    order_look(studio)


carry(StressLimits, "temporary_mpa residual_mpa warning_mpa")
carry(FuseAnneal, "rule")
carry(
    Booking,
    "kiln kind title starts_at ends_at is_provisional cancelled_at cancelled_reason "
    "planned_curve booked_at booked_by kiln_user used_hours used_kwh",
)
carry(
    KilnComparison,
    "kiln compared_on shown_c measured_c error_k compared_by note made_at made_by",
)
carry(KilnUpkeep, "kiln what every counted since made_at made_by")
carry(KilnChange, "kiln changed_on part note upkeep made_at made_by")
carry(
    KilnEvenness,
    "kiln measured_on middle_c edge_c reach_mm error_k falls_c_per_h note made_at "
    "made_by",
)
carry(
    KilnLogger,
    "kiln name made_at made_by heard_at clock_off_s",
    left={
        "nonce": "half of the logger's token; make a new logger on the kiln's page",
        "revoked_at": "every logger arrives revoked: its old token opens nothing here",
    },
    given={"nonce": lambda _: new_nonce(), "revoked_at": lambda at: at},
)
carry(
    Schedule,
    "name version kind piece kiln glass thickness_mm rule start_c basis made_at made_by",
    mend=mend_schedule,
    mended="basis",
)
carry(ScheduleSegment, "schedule number label rate_c_per_h target_c hold_s")
carry(
    Firing,
    "kind kiln booking schedule made_at made_by started_at started_by finished_at "
    "finished_by unloaded_at_c energy_kwh cancelled_at note start_recorded_at before_start",
)
carry(
    TypedProgramme,
    "firing at action programme curve planned_before said made_at made_by taken_back_at "
    "taken_back_by taken_back_reason",
)
carry(
    LoadItem,
    "firing of_pass piece description kiln_user x_mm y_mm is_turned outcome "
    "outcome_note",
)
carry(
    ReadingImport,
    "firing file_name sha256 row_count first_at last_at highest_c thin_curve "
    "description read_as at by",
    left={"is_whole": "only files whose readings are all in are carried"},
)
carry(Reading, "firing source logger at temperature_c")
carry(PushedCorrection, "firing logger change first_at last_at reading_count at by")
carry(
    FiringEvent,
    "firing kind segment begins_at ended_at begins_c worst_c amount seen_at changed_at "
    "alarm_at told_at withdrawn_at acknowledged_at acknowledged_by note",
)
leave(CalendarLink, "links to calendar feeds: each person makes new ones")
leave(FiringWatch, "when a running firing is looked at next; it is looked at anew")
leave(SentFile, "files whose readings are not in: their sender has them")
carry(Judgement, "firing inputs_sha256 verdict numbers trace made_at")
carry(
    Plan,
    "number state wish why asked_at asked_by based_on seed units tries options "
    "least_days_late least_kwh is_proved_best was_stopped stop_asked_at left_out "
    "assumptions made_at closed_at closed_by taken holds troubles troubles_at",
    left={
        "job": "the order for the worker, which is done",
        "facts": "found anew for the plan that stands; others are over",
        "facts_sha256": "found anew with the facts",
    },
    mend=mend_plan,
    mended="state options",
)
carry(PlannedFiring, "plan booking kind unload_at gave_way_to")
carry(
    PlannedItem,
    "firing piece layer attempt number of_pass x_mm y_mm is_turned",
)
carry(
    PlannedWork,
    "plan person piece task layer attempt number of_pass segments starts_at ends_at",
)

name_subjects(booking=Booking, firing=Firing, plan=Plan, schedule=Schedule)
name_paper(documents.KIND, Firing)
name_paper(documents.SIGN_KIND, Firing)
name_paper(record_paper.KIND, Piece)
name_paper(verdict_sheet.KIND, Firing)
name_paper(week_sheet.KIND, None)

add_table(
    "firings",
    lambda studio: (
        Firing.owned.for_studio(studio)
        .select_related("kiln", "booking", "schedule__glass")
        .order_by("booking__starts_at", "pk")
    ),
    plain("Firing", "booking.title"),
    plain("Kind", "get_kind_display"),
    plain("Kiln", "kiln"),
    plain("Glass", "schedule.glass"),
    length("Thickness", "schedule.thickness_mm"),
    plain("Planned start", "booking.starts_at"),
    plain("Planned end", "booking.ends_at"),
    plain("Started", "started_at"),
    plain("Finished", "finished_at"),
    plain("Cancelled", "cancelled_at"),
    plain("Note", "note"),
)
add_table(
    "bookings",
    lambda studio: (
        Booking.owned.for_studio(studio)
        .select_related("kiln", "booked_by")
        .order_by("starts_at", "pk")
    ),
    plain("Booking", "title"),
    plain("Kind", "get_kind_display"),
    plain("Kiln", "kiln"),
    plain("Starts", "starts_at"),
    plain("Ends", "ends_at"),
    plain("Provisional", "is_provisional"),
    plain("Booked by", "booked_by"),
    plain("Cancelled", "cancelled_at"),
    plain("Why", "cancelled_reason"),
)
