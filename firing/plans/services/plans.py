"""Orders plans, saves what the worker made, puts rejected ones aside, and deletes the
contents of old ones.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, Max, OuterRef

from firing.loads.selectors.planned import standing_plan
from firing.models import Plan, PlannedWork, PlanState, PlanWish
from firing.planning.search.progress import nobody
from firing.planning.search.tidy import never
from firing.plans.selectors.fact_kinds import facts_as_json, fingerprint
from firing.plans.selectors.planning import UNITS, Made, compute
from firing.plans.selectors.plans import PLAN_JOB, making_plan, nothing_waits
from studio.errors import Refused
from studio.jobs import enqueue, on_forget
from studio.models import Person, Studio
from studio.services import history
from studio.services.locks import held

# What the worker writes; a request to stop is somebody else's column.
MADE = (
    "state",
    "options",
    "facts",
    "facts_sha256",
    "based_on",
    "least_days_late",
    "least_kwh",
    "tries",
    "is_proved_best",
    "was_stopped",
    "left_out",
    "assumptions",
    "made_at",
)


# This long after a newer plan, an old plan's contents are no use to anybody.
KEPT_FOR = timedelta(days=30)
OVER = (PlanState.SUPERSEDED, PlanState.REFUSED, PlanState.FAILED)


# --- asking for one ------------------------------------------------------------------


@transaction.atomic
def ask_for_plan(
    *,
    studio: Studio,
    wish: str,
    by: Person | None,
    at: datetime,
    why: Iterable[str] = (),
) -> Plan:
    """Order a plan from the worker; if one is already being made, return that.

    Raises
    ------
    Refused
        When no piece waits.
    """
    _refuse_nothing(studio)
    held(Studio.objects).get(pk=studio.pk)
    current = making_plan(studio)
    if current is not None:
        return current
    Plan.owned.for_studio(studio).filter(state=PlanState.MAKING).update(
        state=PlanState.FAILED
    )
    if standing_plan(studio) is None:
        wish = PlanWish.NEW
    plan = _ordered(studio, wish, by, at, why, UNITS)
    plan.job = enqueue(
        studio=studio, name=PLAN_JOB, key=f"plan {plan.pk}", plan_id=plan.pk
    )
    plan.save(update_fields=["job"])
    if by is not None:
        history.record(
            studio=studio,
            by=by,
            at=at,
            what=f"Asked for plan {plan.number} of the kilns",
            subject=f"plan {plan.pk}",
        )
    return plan


def plan_at_once(
    *, studio: Studio, by: Person | None, at: datetime, units: int
) -> Plan:
    """Make a plan here and now, with this many units of work, without the worker.

    Raises
    ------
    Refused
        When no piece waits, or something cannot be done at all.
    """
    _refuse_nothing(studio)
    with transaction.atomic():
        held(Studio.objects).get(pk=studio.pk)  # Numbers are given out one by one.
        plan = _ordered(studio, PlanWish.NEW, by, at, (), units)
    made = compute(plan, now=at, watch=nobody, fence=never, units=units)
    keep_plan(plan=plan, made=made, at=at)
    return plan


def _refuse_nothing(studio: Studio) -> None:
    if nothing_waits(studio):
        raise Refused(
            "Nothing waits to be planned: no piece is in work. Plan a piece first."
        )


def _ordered(
    studio: Studio,
    wish: str,
    by: Person | None,
    at: datetime,
    why: Iterable[str],
    units: int,
) -> Plan:
    last = Plan.owned.for_studio(studio).aggregate(n=Max("number"))["n"] or 0
    plan: Plan = Plan.across_studios.create(
        studio=studio,
        number=last + 1,
        wish=PlanWish(wish),
        why=list(why),
        units=units,
        asked_at=at,
        asked_by=by,
    )
    return plan


def stop_plan(*, plan: Plan, at: datetime) -> None:
    """Tell the worker to end its search and keep the best plan found so far."""
    Plan.across_studios.filter(
        pk=plan.pk, state=PlanState.MAKING, stop_asked_at__isnull=True
    ).update(stop_asked_at=at)


@transaction.atomic
def refuse_plan(*, plan: Plan, by: Person | None, at: datetime) -> None:
    """Reject a plan that was not accepted.

    Raises
    ------
    Refused
        When it was taken or put aside already.
    """
    current = locked_plan(plan)
    if current.state != PlanState.READY:
        raise Refused(f"Plan {current.number} is not waiting to be taken.")
    current.state = PlanState.REFUSED
    current.closed_at, current.closed_by = at, by
    current.save(update_fields=["state", "closed_at", "closed_by"])
    history.record(
        studio=current.studio,
        by=by,
        at=at,
        what=f"Put plan {current.number} of the kilns aside",
        subject=f"plan {current.pk}",
    )


# --- what the worker made ------------------------------------------------------------


def keep_plan(*, plan: Plan, made: Made, at: datetime) -> None:
    """Save what a search found; plans that were not accepted give way to it."""
    Plan.owned.for_studio(plan.studio).filter(state=PlanState.READY).update(
        state=PlanState.REFUSED, closed_at=at
    )
    plan.state = PlanState.READY
    plan.options = list(made.options)
    plan.facts = facts_as_json(made.facts)
    plan.facts_sha256 = fingerprint(made.facts)
    plan.based_on_id = made.based_on
    plan.least_days_late = made.least_days_late
    plan.least_kwh = made.least_kwh
    plan.tries = made.tries
    plan.is_proved_best = made.is_proved_best
    plan.was_stopped = made.was_stopped
    plan.left_out = list(made.left_out)
    plan.assumptions = list(made.assumptions)
    plan.made_at = at
    plan.save(update_fields=list(MADE))


def note_failure(*, plan: Plan, why: str, at: datetime) -> None:
    """Save why a plan could not be made."""
    plan.state = PlanState.FAILED
    plan.troubles, plan.made_at = [why], at
    plan.save(update_fields=["state", "troubles", "made_at"])


def locked_plan(plan: Plan) -> Plan:
    """Lock a plan until the transaction ends and return it as it is now."""
    found: Plan = held(Plan.across_studios).select_related("studio").get(pk=plan.pk)
    return found


# --- forgetting ----------------------------------------------------------------------


@on_forget
@transaction.atomic
def forget_contents(now: datetime) -> int:
    """Empty plans that ended and were followed by another a month ago; return how many.

    The plan itself stays, with its number, who closed it and why it was made. Its
    contents and the facts behind it go.
    """
    newer = Plan.across_studios.filter(
        studio=OuterRef("studio"),
        number__gt=OuterRef("number"),
        made_at__lt=now - KEPT_FOR,
    )
    old = Plan.across_studios.filter(Exists(newer), state__in=OVER).exclude(facts={})
    keys = list(old.values_list("pk", flat=True).order_by("pk"))
    PlannedWork.across_studios.filter(plan__in=keys).delete()
    count: int = Plan.across_studios.filter(pk__in=keys).update(options=[], facts={})
    return count
