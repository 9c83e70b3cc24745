"""Orders plans, keeps what the worker made, and takes one: a plan becomes bookings.

A plan is taken only while what it was computed from still is so, or while it at least
still keeps every rule. Of two plans that are taken at once the database lets one stand.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max

from firing.models import (
    Booking,
    Plan,
    PlannedFiring,
    PlanState,
    PlanWish,
)
from firing.planning.check import check_plan
from firing.planning.part import take_part
from firing.planning.progress import nobody
from firing.planning.replan import count_moves
from firing.planning.tidy import never
from firing.selectors.plan_facts import (
    changes_between,
    fingerprint,
    in_short,
    plan_facts,
)
from firing.selectors.plan_record import (
    Record,
    plan_of,
    published_plan,
    record_of,
)
from firing.selectors.planned import planned_firings, standing_plan
from firing.selectors.planning import (
    UNITS,
    Made,
    changes_of,
    compute,
    option_of,
    source_of,
    weeks_for,
)
from firing.selectors.plans import PLAN_JOB, making_plan
from firing.services import planned_rows
from firing.services.locks import lock_all_kilns
from studio.errors import Refused
from studio.jobs import enqueue
from studio.models import Kiln, Person, Studio
from studio.reader import Reader
from studio.services import history
from studio.services.locks import held

ONE_STANDS = "one_accepted_plan_per_studio"
# What the worker writes; whether it was asked to stop is somebody else's column.
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


class PlanOutdated(Refused):
    """The plan no longer fits what is so; `changes` says what happened meanwhile."""

    def __init__(self, message: str, *, changes: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.changes = tuple(changes)


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
    """Order a plan of the worker; while one is being made, that one is returned."""
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
    """Make a plan here and now, of so many units of work, without the worker.

    Raises
    ------
    Refused
        When something cannot be done at all.
    """
    with transaction.atomic():
        held(Studio.objects).get(pk=studio.pk)  # numbers are given out one by one
        plan = _ordered(studio, PlanWish.NEW, by, at, (), units)
    made = compute(plan, now=at, watch=nobody, fence=never, units=units)
    keep_plan(plan=plan, made=made, at=at)
    return plan


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
    """Ask the worker to end its search and keep the best plan so far."""
    Plan.across_studios.filter(
        pk=plan.pk, state=PlanState.MAKING, stop_asked_at__isnull=True
    ).update(stop_asked_at=at)


@transaction.atomic
def refuse_plan(*, plan: Plan, by: Person | None, at: datetime) -> None:
    """Put a plan aside that was not taken.

    Raises
    ------
    Refused
        When it was taken or put aside already.
    """
    current = _locked(plan)
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
    """Store what a search found; plans that were not taken give way to it."""
    Plan.owned.for_studio(plan.studio).filter(state=PlanState.READY).update(
        state=PlanState.REFUSED, closed_at=at
    )
    plan.state = PlanState.READY
    plan.options = list(made.options)
    plan.facts = made.facts
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
    """Keep why a plan could not be made."""
    plan.state = PlanState.FAILED
    plan.troubles, plan.made_at = [why], at
    plan.save(update_fields=["state", "troubles", "made_at"])


# --- taking one ----------------------------------------------------------------------


def accept_plan(
    *,
    plan: Plan,
    option: str,
    by: Person | None,
    at: datetime,
    pieces: Sequence[int] | None = None,
) -> Plan:
    """Take an option of a plan, whole or only for some pieces, as the standing plan.

    Its firings become provisional bookings; those of the plan before it give way, what
    is confirmed or running stays.

    Parameters
    ----------
    pieces : sequence of int or None
        Keys of the pieces whose changes are taken, with those that must come along;
        None for all.

    Raises
    ------
    PlanOutdated
        When another plan was taken meanwhile, or what changed since breaks this one.
    Refused
        When it is not waiting to be taken, or has no such option.
    """
    try:
        return _accept(plan, option, by, at, pieces)
    except IntegrityError as problem:
        if ONE_STANDS not in str(problem) and "firing_plan.studio_id" not in str(
            problem
        ):
            raise
        raise PlanOutdated(
            "Another plan was taken at the same moment. This one was not."
        ) from problem


@transaction.atomic
def _accept(
    plan: Plan,
    option: str,
    by: Person | None,
    at: datetime,
    pieces: Sequence[int] | None,
) -> Plan:
    studio = plan.studio
    lock_all_kilns(studio)
    current = _locked(plan)
    standing = standing_plan(studio)
    _refuse_overtaken(current, standing, at)
    chosen = next((one for one in current.options if one["name"] == option), None)
    if chosen is None:
        raise Refused(f"Plan {current.number} has no such option. Look at it again.")
    chosen = _checked(current, standing, chosen, at, pieces)
    _refuse_begun(chosen["record"], studio, at)
    if chosen["name"] != option:
        current.options = [chosen, *current.options]
    _supersede(standing, current)
    current.state = PlanState.ACCEPTED
    current.taken = chosen["name"]
    current.closed_at, current.closed_by = at, by
    current.holds, current.troubles, current.troubles_at = True, [], None
    current.save()
    planned_rows.write(current, chosen["record"], by=by, at=at)
    current.facts = plan_facts(studio, at)
    current.facts_sha256 = fingerprint(current.facts)
    current.save(update_fields=["facts", "facts_sha256"])
    count = len(chosen["record"]["firings"]) + len(chosen["record"]["fuses"])
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"Accepted plan {current.number} of the kilns: {count} "
        + ("firing" if count == 1 else "firings"),
        subject=f"plan {current.pk}",
    )
    return current


def _locked(plan: Plan) -> Plan:
    found: Plan = held(Plan.across_studios).select_related("studio").get(pk=plan.pk)
    return found


def _refuse_overtaken(plan: Plan, standing: Plan | None, at: datetime) -> None:
    reader = Reader.of_studio(plan.studio)
    if standing is not None and standing.pk == plan.pk:
        who = f" by {standing.closed_by}" if standing.closed_by else ""
        raise Refused(f"Plan {plan.number} was accepted already{who}.")
    if standing is not None and plan.based_on_id != standing.pk:
        who = f" by {standing.closed_by}" if standing.closed_by else ""
        when = reader.moment(standing.closed_at, at) if standing.closed_at else ""
        raise PlanOutdated(
            f"Plan {standing.number} was accepted{who} {when} after plan {plan.number} "
            "was made, so the kilns are booked otherwise now."
        )
    if plan.state != PlanState.READY:
        words = plan.get_state_display().lower()
        raise Refused(f"Plan {plan.number} cannot be taken: {words}.")


def _checked(
    plan: Plan,
    standing: Plan | None,
    chosen: dict[str, Any],
    at: datetime,
    pieces: Sequence[int] | None,
) -> dict[str, Any]:
    """Return the option as it is taken; checked anew where anything changed."""
    facts = plan_facts(plan.studio, at)
    is_current = fingerprint(facts) == plan.facts_sha256
    if is_current and pieces is None:
        return chosen
    made_at = plan.made_at or at
    weeks = weeks_for(chosen["record"], made_at)
    source = source_of(plan.studio, now=made_at, weeks=weeks)
    changed = in_short(changes_between(plan.facts, facts, now=at))
    proposed = plan_of(chosen["record"], source)
    if pieces is None:
        if not check_plan(source.problem, proposed).is_valid:
            raise PlanOutdated(
                f"Plan {plan.number} no longer fits: since it was made, this happened.",
                changes=changed,
            )
        record = record_of(proposed, source)
        return {**chosen, "name": f"{chosen['name']} now", "record": record}
    published = published_plan(source, standing)
    names = [name for name, pk in source.piece_pks.items() if pk in set(pieces)]
    part = take_part(source.problem, published, proposed, names)
    missing = set(names) - part.taken
    if missing:
        raise PlanOutdated(
            f"The change of {', '.join(sorted(missing))} no longer fits: since the plan "
            "was made, this happened.",
            changes=changed,
        )
    record = record_of(part.plan, source)
    before = record_of(published, source)
    return option_of(
        "part",
        record,
        part.verdict,
        count_moves(published, part.plan),
        changes_of(before, record),
    )


def _refuse_begun(record: Record, studio: Studio, at: datetime) -> None:
    """Refuse a plan whose first loading is over already."""
    rows = [*record["firings"], *record["fuses"]]
    first = min(rows, key=lambda row: str(row["starts_at"]), default=None)
    if first is None:
        return
    starts_at = datetime.fromisoformat(first["starts_at"])
    if starts_at < at:
        kiln = Kiln.owned.for_studio(studio).get(pk=first["kiln"])
        when = Reader.of_studio(studio).moment(starts_at, at)
        raise PlanOutdated(
            f"The plan is too old: it has {kiln} loaded {when}, and that is over."
        )


def _supersede(standing: Plan | None, plan: Plan) -> None:
    """Let a newer plan stand; confirmed firings and their work become its own."""
    if standing is None:
        return
    standing.state = PlanState.SUPERSEDED
    standing.save(update_fields=["state"])
    PlannedFiring.across_studios.filter(
        plan=standing, booking__is_provisional=False
    ).update(plan=plan)
    planned_rows.keep_confirmed_work(standing, plan)


# --- confirming ----------------------------------------------------------------------


@transaction.atomic
def confirm(
    *, studio: Studio, bookings: Sequence[int] | None, by: Person | None, at: datetime
) -> int:
    """Fix provisional bookings of the standing plan; return how many were.

    What must be fired before a confirmed firing is confirmed with it.

    Parameters
    ----------
    bookings : sequence of int or None
        Keys; None for all.

    Raises
    ------
    Refused
        When none of them waits to be confirmed.
    """
    # First: a plan that is taken at this moment changes what there is to confirm.
    lock_all_kilns(studio)
    rows = list(planned_firings(studio).filter(booking__is_provisional=True))
    wanted = {
        row.pk for row in rows if bookings is None or row.booking_id in set(bookings)
    }
    if not wanted:
        raise Refused("There is no provisional booking to confirm here.")
    chosen = planned_rows.with_what_comes_before(rows, wanted)
    found = Booking.across_studios.filter(
        pk__in=[row.booking_id for row in chosen], cancelled_at__isnull=True
    )
    count: int = found.update(is_provisional=False)
    for row in chosen:
        history.record(
            studio=studio,
            by=by,
            at=at,
            what=f"Confirmed “{row.booking.title}” in {row.booking.kiln}",
            subject=f"booking {row.booking_id}",
        )
    return count
