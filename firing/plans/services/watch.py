"""Looks after the standing plan. Whenever something is recorded, the worker checks
whether the plan still holds; if not, it makes another and says why.
"""

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q

from firing.loads.selectors.planned import standing_plan
from firing.models import Plan, PlanState, PlanWish
from firing.plans.selectors.fact_kinds import (
    facts_as_json,
    facts_from_json,
    fingerprint,
)
from firing.plans.selectors.facts import plan_facts
from firing.plans.selectors.holding import Holding
from firing.plans.selectors.plans import (
    WATCH_JOB,
    making_plan,
    nothing_waits,
    plans_the_clock_broke,
    ready_plan,
)
from firing.plans.services.plans import ask_for_plan
from studio.jobs import enqueue, on_sweep
from studio.models import HistoryEntry, Job, JobState, Studio
from studio.services.history import on_record

PAUSE_AFTER_FAILURE = timedelta(hours=1)


@on_record
def ask_to_look(entry: HistoryEntry) -> None:
    """Have the worker look at the standing plan after something was recorded."""
    studio = entry.studio
    if entry.is_about_money or entry.subject.startswith("plan "):
        return
    if not Plan.owned.for_studio(studio).filter(state=PlanState.ACCEPTED).exists():
        return
    order_look(studio)


def order_look(studio: Studio) -> None:
    """Order one look at the standing plan, unless one waits already."""
    waiting = Job.owned.for_studio(studio).filter(
        name=WATCH_JOB, state=JobState.WAITING
    )
    # One that has not begun will see this too.
    if not waiting.exists():
        enqueue(studio=studio, name=WATCH_JOB)


def look_if_changed(*, plan: Plan, at: datetime) -> None:
    """Order a look if something happened while a plan was being made.

    A look orders no plan while one is already being made. Without this, whatever that
    plan missed would wait for the next thing recorded.
    """
    if standing_plan(plan.studio) is None:
        return
    if fingerprint(plan_facts(plan.studio, at)) != plan.facts_sha256:
        order_look(plan.studio)


@on_sweep
def look_at_the_clock(now: datetime) -> None:
    """Order a look where a planned loading was missed or a kiln is running late.

    Nothing is recorded then, so the history does not say so. A plan looked at since is
    not looked at again; after a look that failed there is a pause.
    """
    for plan in plans_the_clock_broke(now):
        failed = Job.owned.for_studio(plan.studio).filter(
            name=WATCH_JOB,
            state=JobState.FAILED,
            finished_at__gt=now - PAUSE_AFTER_FAILURE,
        )
        if not failed.exists():
            order_look(plan.studio)


@transaction.atomic
def keep_holding(*, plan: Plan, found: Holding, at: datetime) -> Plan | None:
    """Save whether a plan holds, order another if not, and return whether it holds."""
    # If two looks run at once, the later one counts, whichever finishes first.
    not_later = Q(troubles_at__isnull=True) | Q(troubles_at__lte=at)
    kept = Plan.across_studios.filter(
        not_later, pk=plan.pk, state=PlanState.ACCEPTED
    ).update(holds=found.holds, troubles=list(found.sentences), troubles_at=at)
    if kept and found.holds:
        _renew_facts(plan, found)
    if not kept or found.holds or making_plan(plan.studio) is not None:
        return None
    if nothing_waits(plan.studio):
        return None
    ready = ready_plan(plan.studio)
    if ready is not None and ready.facts_sha256 == fingerprint(found.facts):
        return None
    return ask_for_plan(
        studio=plan.studio, wish=PlanWish.AGAIN, by=None, at=at, why=found.sentences
    )


def _renew_facts(plan: Plan, found: Holding) -> None:
    """Update the facts of a plan that holds if its own can no longer be read."""
    if facts_from_json(plan.facts) is None:
        Plan.across_studios.filter(pk=plan.pk).update(
            facts=facts_as_json(found.facts), facts_sha256=fingerprint(found.facts)
        )
