"""Whether the standing plan still works, and what happened if not."""

from dataclasses import dataclass
from datetime import datetime

from firing.loads.selectors.planned import GRACE
from firing.models import Plan
from firing.planning.problem.problem import PlanProblem, Skill
from firing.planning.problem.solution import TASK_WORDS
from firing.planning.proofs.check import RuleBroken
from firing.planning.search.replan import replan
from firing.plans.selectors.events import events_between, in_short
from firing.plans.selectors.fact_kinds import Facts, facts_from_json
from firing.plans.selectors.facts import plan_facts
from firing.plans.selectors.planning import changes_of, source_of, weeks_for
from firing.plans.selectors.plans import overdue_loads
from firing.plans.selectors.record import Record, plan_of, record_of, standing_record
from studio.viewer import Viewer

COLDWORK = TASK_WORDS[Skill.COLDWORK]


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """Whether a plan holds, in sentences, and the facts it was checked against."""

    holds: bool
    sentences: tuple[str, ...]
    facts: Facts


def holding_of(plan: Plan, *, now: datetime) -> Holding:
    """Return whether every firing of the standing plan can stay where it is.

    Work by hand that moves a little within its days breaks no plan, nor does a firing
    that begins a little later. A firing that must be moved, added or dropped does, and
    so does a later delivery.
    """
    facts = plan_facts(plan.studio, now)
    before = facts_from_json(plan.facts)
    events: list[str] = []
    if before is not None:
        viewer = Viewer.of_studio(plan.studio)
        events = events_between(before, facts, viewer=viewer, now=now)
    late = overdue_words(plan, now)
    holds = not late and _can_stay(plan, now)
    sentences = [*late, *events]
    if not holds and not sentences:
        sentences = ["Work has taken longer than planned."]
    return Holding(holds=holds, sentences=tuple(in_short(sentences)), facts=facts)


def overdue_words(plan: Plan, now: datetime) -> list[str]:
    """Name the planned firings that should have been loaded and were not."""
    viewer = Viewer.of_studio(plan.studio)
    return [
        f"{row.booking.kiln} was to be loaded {viewer.moment(row.booking.starts_at, now)}"
        f" with “{row.booking.title}”, and no firing was made up."
        for row in overdue_loads(plan.studio, now)
    ]


def _can_stay(plan: Plan, now: datetime) -> bool:
    record = standing_record(plan, now)
    source = source_of(plan.studio, now=now, weeks=weeks_for(record, now))
    if source.ruled_out & _movable_pieces(record):
        return False
    published = plan_of(record, source)
    if not source.problem.pieces:
        return True
    try:
        least = replan(source.problem, published, seed=plan.seed).least
    except (PlanProblem, RuleBroken):
        return False
    if set(least.plan.undelivered) - set(published.undelivered):
        return False
    changes = changes_of(record_of(published, source), record_of(least.plan, source))
    for one in changes:
        if one["what"] in {"firing", "fuse"} and not _is_slight(one):
            return False
        if one["what"] == "delivery" and (one["before"] or "") < (one["after"] or ""):
            return False
    return True


def _movable_pieces(record: Record) -> set[int]:
    """Return the keys of the pieces that a record has something planned for.

    Painting and stacking are left out: they may belong to a confirmed firing.
    """
    rows = [item for row in record["firings"] for item in row["items"]]
    coldwork = [row for row in record["work"] if row["task"] == COLDWORK]
    return {row["piece"] for row in (*rows, *record["fuses"], *coldwork)}


def _is_slight(change: Record) -> bool:
    """Return whether a firing only begins within its grace, in the same kiln."""
    before, after = change["before"], change["after"]
    if not before or not after or before[0] != after[0]:
        return False
    was, begins = map(datetime.fromisoformat, (before[1], after[1]))
    return abs(begins - was) <= GRACE
