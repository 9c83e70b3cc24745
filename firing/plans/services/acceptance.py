"""Accepts a plan and turns it into bookings.

A plan is accepted only while the facts behind it are unchanged, or while it still
breaks no rule. That is worked out before any row is locked. Under the locks only the
facts are compared; if they changed, it is worked out again. If two plans are accepted
at once, the database lets one stand.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from firing.loads.selectors.planned import GRACE, standing_plan
from firing.locks import lock_all_kilns
from firing.models import Plan, PlanState
from firing.planning.proofs.check import check_plan
from firing.planning.search.partial_plan import take_part
from firing.planning.search.replan import count_moves
from firing.plans.selectors.events import NOT_KNOWN, changes_between, in_short
from firing.plans.selectors.fact_kinds import (
    Facts,
    facts_as_json,
    facts_from_json,
    fingerprint,
)
from firing.plans.selectors.facts import FactsRead, plan_facts
from firing.plans.selectors.planning import changes_of, option_of, source_of, weeks_for
from firing.plans.selectors.plans import may_move
from firing.plans.selectors.record import Record, plan_of, published_plan, record_of
from firing.plans.services import planned_rows
from firing.plans.services.plans import locked_plan
from studio.errors import Refused
from studio.models import Kiln, Person, Studio
from studio.services import history
from studio.viewer import Viewer

ONE_STANDS = "one_accepted_plan_per_studio"
# How often a plan is worked out again because something was recorded meanwhile.
MOST_TRIES = 3


class PlanOutdated(Refused):
    """The plan no longer fits the facts; `changes` says what happened meanwhile."""

    def __init__(self, message: str, *, changes: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.changes = tuple(changes)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Prepared:
    """An option as it would be accepted while these facts hold."""

    option: dict[str, Any]
    rows: tuple[planned_rows.ReadyFiring, ...]
    facts_sha256: str


def accept_plan(
    *,
    plan: Plan,
    option: str,
    by: Person | None,
    at: datetime,
    pieces: Sequence[int] | None = None,
) -> Plan:
    """Accept an option of a plan as the standing plan, whole or only for some pieces.

    Its firings become provisional bookings. Those of the earlier plan give way; what is
    confirmed or running stays. Call it outside a transaction: it computes first.

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
        When it is not waiting to be taken, has no such option, or so much is being
        recorded at this moment that it cannot be worked out.
    """
    for _ in range(MOST_TRIES):
        prepared = _prepared(plan, option, at, pieces)
        taken = _taken(plan, prepared, by, at)
        if taken is not None:
            return taken
    raise Refused(
        f"Much is being recorded in the studio at this moment. {plan} was not taken; "
        "take it again."
    )


def _prepared(
    plan: Plan, option: str, at: datetime, pieces: Sequence[int] | None
) -> _Prepared:
    """Work out what accepting an option would write, without any lock."""
    studio = plan.studio
    current = Plan.across_studios.select_related("studio").get(pk=plan.pk)
    # Read this first: later changes are found under the locks.
    facts = plan_facts(studio, at)
    standing = standing_plan(studio)
    _refuse_overtaken(current, standing, at)
    chosen = next((one for one in current.options if one["name"] == option), None)
    if chosen is None:
        raise Refused(f"Plan {current.number} has no such option. Look at it again.")
    chosen = _checked(current, standing, chosen, facts, at, pieces)
    _refuse_begun(chosen["record"], studio, at)
    return _Prepared(
        option=chosen,
        rows=planned_rows.prepare(studio, chosen["record"]),
        facts_sha256=fingerprint(facts),
    )


def _taken(
    plan: Plan, prepared: _Prepared, by: Person | None, at: datetime
) -> Plan | None:
    """Write a plan as prepared; return none when the facts changed meanwhile."""
    try:
        return _write(plan, prepared, by, at)
    except IntegrityError as problem:
        if ONE_STANDS not in str(problem) and "firing_plan.studio_id" not in str(
            problem
        ):
            raise
        raise PlanOutdated(
            "Another plan was taken at the same moment. This one was not."
        ) from problem


@transaction.atomic
def _write(
    plan: Plan, prepared: _Prepared, by: Person | None, at: datetime
) -> Plan | None:
    studio, chosen = plan.studio, prepared.option
    lock_all_kilns(studio)
    current = locked_plan(plan)
    standing = standing_plan(studio)
    _refuse_overtaken(current, standing, at)
    read = FactsRead(studio, at)
    if fingerprint(read.facts()) != prepared.facts_sha256:
        return None
    if chosen["name"] not in {one["name"] for one in current.options}:
        current.options = [chosen, *current.options]
    _supersede(standing, current, at)
    current.state = PlanState.ACCEPTED
    current.taken = chosen["name"]
    current.closed_at, current.closed_by = at, by
    current.holds, current.troubles, current.troubles_at = True, [], None
    current.save()
    work = chosen["record"]["work"]
    planned_rows.write(current, prepared.rows, work, by=by, at=at)
    taken = read.facts()
    current.facts, current.facts_sha256 = facts_as_json(taken), fingerprint(taken)
    current.save(update_fields=["facts", "facts_sha256"])
    count = len(prepared.rows)
    history.record(
        studio=studio,
        by=by,
        at=at,
        what=f"Accepted plan {current.number} of the kilns: {count} "
        + ("firing" if count == 1 else "firings"),
        subject=f"plan {current.pk}",
    )
    return current


def _refuse_overtaken(plan: Plan, standing: Plan | None, at: datetime) -> None:
    viewer = Viewer.of_studio(plan.studio)
    if standing is not None and standing.pk == plan.pk:
        who = f" by {standing.closed_by}" if standing.closed_by else ""
        raise Refused(f"Plan {plan.number} was accepted already{who}.")
    if standing is not None and plan.based_on_id != standing.pk:
        who = f" by {standing.closed_by}" if standing.closed_by else ""
        when = viewer.moment(standing.closed_at, at) if standing.closed_at else ""
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
    facts: Facts,
    at: datetime,
    pieces: Sequence[int] | None,
) -> dict[str, Any]:
    """Return the option to accept, checked again if anything changed."""
    if pieces is None and fingerprint(facts) == plan.facts_sha256:
        return chosen
    made_at = plan.made_at or at
    weeks = weeks_for(chosen["record"], made_at)
    source = source_of(plan.studio, now=made_at, weeks=weeks)
    changed = _since_made(plan, facts, at)
    proposed = plan_of(chosen["record"], source)
    if pieces is None:
        if not check_plan(source.problem, proposed).is_valid:
            raise PlanOutdated(
                f"Plan {plan.number} no longer fits: since it was made, this happened.",
                changes=changed,
            )
        record = record_of(proposed, source)
        is_empty = not (record["firings"] or record["fuses"] or record["work"])
        if is_empty and not may_move(plan.studio):
            raise PlanOutdated(
                f"Nothing of plan {plan.number} is left to be done.", changes=changed
            )
        return {**chosen, "name": f"{chosen['name']} now", "record": record}
    published = published_plan(source, standing)
    wanted = [one for one, pk in source.piece_pks.items() if pk in set(pieces)]
    part = take_part(source.problem, published, proposed, wanted)
    missing = [source.call(one) for one in wanted if one not in part.taken]
    if missing:
        raise PlanOutdated(
            f"The change of {', '.join(missing)} no longer fits: since the plan "
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


def _since_made(plan: Plan, facts: Facts, at: datetime) -> list[str]:
    """Say what happened since the plan was made."""
    before = facts_from_json(plan.facts)
    if before is None:
        return [NOT_KNOWN]
    viewer = Viewer.of_studio(plan.studio)
    return in_short(changes_between(before, facts, viewer=viewer, now=at))


def _refuse_begun(record: Record, studio: Studio, at: datetime) -> None:
    """Refuse a plan whose first loading is missed."""
    rows = [*record["firings"], *record["fuses"]]
    first = min(rows, key=lambda row: str(row["starts_at"]), default=None)
    if first is None:
        return
    starts_at = datetime.fromisoformat(first["starts_at"])
    if starts_at <= at - GRACE:
        kiln = Kiln.owned.for_studio(studio).get(pk=first["kiln"])
        when = Viewer.of_studio(studio).moment(starts_at, at)
        raise PlanOutdated(
            f"The plan is too old: it has {kiln} loaded {when}, and that is over."
        )


def _supersede(standing: Plan | None, plan: Plan, at: datetime) -> None:
    """Let a newer plan stand; it takes on the firings that may not move."""
    if standing is None:
        return
    planned_rows.keep_fixed(standing, plan, at=at)
    standing.state = PlanState.SUPERSEDED
    standing.save(update_fields=["state"])
