"""Reads of plans: which one stands, which waits for an answer, which is being made."""

from datetime import datetime

from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Coalesce

from firing.loads.selectors.planned import GRACE, planned_firings
from firing.models import Booking, Plan, PlannedFiring, PlanState
from studio.models import JobState, Studio
from studio.selectors.pieces import pieces_in_work
from studio.tenancy import StudioQuerySet

_IS_MADE = Q(
    state=PlanState.MAKING, job__state__in=[JobState.WAITING, JobState.RUNNING]
)

# Refusals are kept with the plan: what is left is a fault of the program, whose own words
# are for whoever runs the server.
GIVEN_UP = (
    "Something in the program went wrong while it was made. Nothing was booked or moved. "
    "Try again; if it comes back, tell whoever runs the server."
)
PLAN_JOB, WATCH_JOB = "firing.plan", "firing.watch_plan"


def plans(studio: Studio) -> StudioQuerySet[Plan]:
    """Return the studio's plans, the newest first."""
    return (
        Plan.owned.for_studio(studio)
        .select_related("closed_by", "asked_by", "job", "studio")
        .defer("facts")
        .order_by("-number")
    )


def open_plans(studio: Studio) -> dict[str, Plan]:
    """Return the plan that stands, the one that waits to be accepted and the one made.

    By their states, without what they hold.
    """
    is_open = Q(state__in=[PlanState.ACCEPTED, PlanState.READY]) | _IS_MADE
    found = plans(studio).filter(is_open).defer("facts", "options").reverse()
    return {plan.state: plan for plan in found}


def making_plan(studio: Studio) -> Plan | None:
    """Return the plan that the worker is making or will make."""
    found: Plan | None = plans(studio).filter(_IS_MADE).first()
    return found


def ready_plan(studio: Studio) -> Plan | None:
    """Return the plan that is waiting to be accepted, if any."""
    found: Plan | None = plans(studio).filter(state=PlanState.READY).first()
    return found


def failed_plan(studio: Studio) -> Plan | None:
    """Return the newest plan if it failed; its troubles say why."""
    newest: Plan | None = plans(studio).defer("facts", "options").first()
    if newest is None:
        return None
    is_given_up = newest.state == PlanState.MAKING and (
        newest.job is None or newest.job.is_over
    )
    if is_given_up:
        newest.troubles = [GIVEN_UP]
    return newest if newest.state == PlanState.FAILED or is_given_up else None


def is_forgotten(plan: Plan) -> bool:
    """Return whether the contents of a plan were there once and are now deleted."""
    return bool(plan.facts_sha256) and not plan.facts


def nothing_waits(studio: Studio) -> bool:
    """Return whether a plan would be empty and change nothing.

    Even with no piece in work, the standing plan may have bookings to give back.
    """
    return not pieces_in_work(studio).exists() and not may_move(studio)


def may_move(studio: Studio) -> bool:
    """Return whether the standing plan has bookings that another plan may move."""
    movable = planned_firings(studio).filter(booking__is_provisional=True)
    return bool(movable.exists())


def is_stop_asked(plan_id: int) -> bool:
    """Return whether somebody asked for the best plan found so far."""
    return bool(
        Plan.across_studios.filter(pk=plan_id, stop_asked_at__isnull=False).exists()
    )


def overdue_loads(studio: Studio, now: datetime) -> list[PlannedFiring]:
    """Return the planned firings that should have been loaded and plainly were not."""
    return list(planned_firings(studio).filter(booking__starts_at__lte=now - GRACE))


def plans_the_clock_broke(now: datetime) -> list[Plan]:
    """Return the standing plans of all studios that time alone may have broken.

    Either a planned loading was missed or a firing runs past its booking, and nobody
    has looked at the plan since.
    """
    seen_at = Coalesce("troubles_at", "closed_at")
    missed = Booking.across_studios.filter(
        planned_firing__plan=OuterRef("pk"),
        cancelled_at__isnull=True,
        starts_at__lte=now - GRACE,
        starts_at__gt=OuterRef("seen_at") - GRACE,
    )
    late = Booking.across_studios.filter(
        studio=OuterRef("studio"),
        firing__started_at__isnull=False,
        firing__finished_at__isnull=True,
        ends_at__lt=now,
        ends_at__gte=OuterRef("seen_at"),
    )
    return list(
        Plan.across_studios.filter(state=PlanState.ACCEPTED)
        .annotate(seen_at=seen_at)
        .filter(Exists(missed) | Exists(late))
        .select_related("studio")
        .order_by("pk")
    )
