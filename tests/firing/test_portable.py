"""Plans and schedules that arrive from another server: every key is a new one."""

import pytest

from firing.models import Plan, PlanState, Schedule
from firing.plans.services.watch import WATCH_JOB
from firing.portable import look_at_the_plan, mend_plan, mend_schedule
from studio.models import Job
from tests.firing import planned_time
from tests.make import NOW

KEYS = {
    "studio.kiln": {1: 101},
    "studio.piece": {2: 102, 3: 103},
    "studio.layer": {4: 104},
    "studio.pass": {5: 105},
    "studio.person": {6: 106},
    "firing.firing": {7: 107},
}


def option(name="shorter", **record):
    facts = {
        "firings": [
            {
                "kiln": 1,
                "kind": "enamel",
                "items": [
                    {"piece": 2, "layer": 4, "attempt": 1, "number": 1, "pass": 5},
                    {"piece": 2, "layer": 4, "attempt": 1, "number": 2, "pass": None},
                ],
            }
        ],
        "fuses": [{"kiln": 1, "piece": 2}],
        "work": [{"person": 6, "task": "assembly", "piece": 2, "layer": None}],
        "deliveries": {"2": "2026-03-20"},
        "undelivered": [3],
    }
    return {
        "name": name,
        "kwh": 40,
        "changes": [{"piece": 2}],
        "record": facts | record,
    }


def mended(state=PlanState.ACCEPTED, *options, taken="shorter"):
    plan = Plan(state=state, taken=taken, options=list(options or [option()]))
    assert mend_plan(plan, KEYS), "a plan is never left behind"
    return plan


def test_the_option_that_was_taken_names_the_new_rows_everywhere():
    (one,) = mended().options
    assert one["record"] == {
        "firings": [
            {
                "kiln": 101,
                "kind": "enamel",
                "items": [
                    {
                        "piece": 102,
                        "layer": 104,
                        "attempt": 1,
                        "number": 1,
                        "pass": 105,
                    },
                    {
                        "piece": 102,
                        "layer": 104,
                        "attempt": 1,
                        "number": 2,
                        "pass": None,
                    },
                ],
            }
        ],
        "fuses": [{"kiln": 101, "piece": 102}],
        "work": [{"person": 106, "task": "assembly", "piece": 102, "layer": None}],
        "deliveries": {"102": "2026-03-20"},
        "undelivered": [103],
    }
    assert (one["kwh"], one["changes"]) == (40, []), "changes were from the plan before"


def test_only_the_option_that_was_taken_is_kept():
    plan = mended(PlanState.ACCEPTED, option("other"), option("shorter"))
    assert [one["name"] for one in plan.options] == ["shorter"]


@pytest.mark.parametrize(
    ("state", "then"),
    [
        (PlanState.MAKING, PlanState.FAILED),
        (PlanState.READY, PlanState.REFUSED),
        (PlanState.SUPERSEDED, PlanState.SUPERSEDED),
        (PlanState.REFUSED, PlanState.REFUSED),
        (PlanState.FAILED, PlanState.FAILED),
    ],
)
def test_a_plan_that_does_not_stand_offers_nothing_any_more(state, then):
    plan = mended(state)
    assert (plan.state, plan.options) == (then, [])


@pytest.mark.parametrize(
    "broken",
    [
        option(fuses=[{"kiln": 9, "piece": 2}]),  # a kiln that is gone
        option(deliveries={"9": "2026-03-20"}),
        option(deliveries={"Reed bed": "2026-03-20"}),
        option(undelivered=None),
        {"name": "shorter"},  # as an older planner wrote it
        "shorter",
    ],
)
def test_an_option_that_cannot_be_read_is_dropped_and_the_plan_stays(broken):
    plan = mended(PlanState.ACCEPTED, broken)
    assert (plan.state, plan.options) == (PlanState.ACCEPTED, [])


@pytest.mark.parametrize(
    ("basis", "then"),
    [
        ({"judged_firing": 7, "engine": 4}, {"judged_firing": 107, "engine": 4}),
        ({"judged_firing": 8}, {"judged_firing": None}),  # its firing is gone
        ({"engine": 4}, {"engine": 4}),
    ],
)
def test_a_re_anneal_names_the_firing_it_was_computed_from(basis, then):
    schedule = Schedule(basis=basis)
    assert mend_schedule(schedule, KEYS)
    assert schedule.basis == then


def test_a_standing_plan_is_watched_again_from_the_facts_as_they_arrived(cast):
    plan = planned_time.standing(cast.studio)
    look_at_the_plan(cast.studio, NOW)
    plan.refresh_from_db()
    assert plan.facts_sha256
    assert Job.owned.for_studio(cast.studio).get().name == WATCH_JOB


def test_without_a_standing_plan_there_is_nothing_to_watch(cast, strangers):
    planned_time.standing(strangers.studio)
    look_at_the_plan(cast.studio, NOW)
    assert not Job.across_studios.exists()
