"""The choice before a fuse: which kilns take the piece, and three rules side by side."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from firing.kiln_time.selectors.bookings import earliest_free_start, may_open_at
from firing.loads.selectors.planned import planned_stack
from firing.models import FiringKind, PlannedFiring, ScheduleRule
from firing.physics.schedule import PhysicsProblem
from firing.planning.spans.free_time import NoRoom
from firing.schedules.selectors.fits import kilns, stack_problems
from firing.schedules.selectors.programmes import Proposal, propose_stack
from studio.models import Kiln
from studio.selectors.glass_checks import mixed_problems
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer

COMPUTED = ScheduleRule.COMPUTED.value
RULE_TITLES = {
    ScheduleRule.NEXT_ROW: "One row thicker",
    ScheduleRule.ROW: "The row itself",
    ScheduleRule.EXACT: "The very thickness",
}
RULE_TEXTS = {
    ScheduleRule.NEXT_ROW: (
        "The table's nearest row, and then one thicker. The habit of the trade, and "
        "the slowest."
    ),
    ScheduleRule.ROW: "The table's first row that is at least as thick.",
    ScheduleRule.EXACT: (
        "The table's own law at the measured height: least margin, shortest time."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleOption:
    """One rule and what it means in the chosen kiln, or why it cannot be used."""

    rule: str
    title: str
    text: str
    proposal: Proposal | None
    problem: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnOption:
    """One kiln: when it could start, or why it cannot take the piece."""

    kiln: Kiln
    problems: tuple[str, ...]
    starts_at: datetime | None = None
    opens_at: datetime | None = None

    @property
    def is_fit(self) -> bool:
        return not self.problems


@dataclass(frozen=True, slots=True, kw_only=True)
class FusePlan:
    """Everything the page offers before a schedule is saved."""

    view: PieceView
    kind: str
    kilns: tuple[KilnOption, ...]
    kiln: Kiln | None
    rules: tuple[RuleOption, ...]

    @property
    def kind_words(self) -> str:
        return FiringKind(self.kind).label


def plan_fuse(
    view: PieceView,
    *,
    kind: str,
    kiln: Kiln | None,
    viewer: Viewer,
    now: datetime,
) -> FusePlan:
    """Compare kilns and rules; without a kiln, for the one that could be opened first."""
    planned = planned_stack(view.piece, after=now)
    options = tuple(
        _kiln_option(one, view, kind, viewer, now, planned)
        for one in kilns(viewer.studio)
    )
    fitting = [option for option in options if option.is_fit]
    if kiln is None and planned is not None:
        there = planned.booking.kiln_id
        kiln = next((one.kiln for one in fitting if one.kiln.pk == there), None)
    if kiln is None and fitting:
        kiln = min(fitting, key=_first_ready).kiln
    return FusePlan(
        view=view,
        kind=kind,
        kilns=options,
        kiln=kiln,
        rules=tuple(
            _rule_option(rule, view, kind, kiln) for rule in RULE_TITLES if kiln
        ),
    )


def _first_ready(option: KilnOption) -> tuple[bool, datetime | None, int]:
    return (option.opens_at is None, option.opens_at, option.kiln.pk)


def problems_of(kiln: Kiln, view: PieceView, kind: str, viewer: Viewer) -> list[str]:
    """Return why a kiln cannot take a piece, in words. Every kiln refuses glasses that
    do not go together.
    """
    mixed = mixed_problems([v.layer.glass for v in view.layers], viewer)
    return mixed + stack_problems(
        kiln=kiln,
        kind=kind,
        width_mm=view.piece.width_mm,
        depth_mm=view.piece.height_mm,
        height_mm=view.height_mm,
        glass=view.piece.glass,
        is_dammed=view.piece.is_dammed,
        viewer=viewer,
    )


def _kiln_option(
    kiln: Kiln,
    view: PieceView,
    kind: str,
    viewer: Viewer,
    now: datetime,
    planned: PlannedFiring | None,
) -> KilnOption:
    problems = problems_of(kiln, view, kind, viewer)
    proposal, last_problem = None, ""
    if not problems:
        proposal, last_problem = _first_possible(kiln, view, kind)
    if proposal is None:
        return KilnOption(
            kiln=kiln, problems=(*problems, *filter(None, [last_problem]))
        )
    try:
        if planned is not None and planned.booking.kiln_id == kiln.pk:
            start = planned.booking.starts_at
        else:
            start = earliest_free_start(
                kiln=kiln,
                lasts_s=proposal.booking_s,
                after=now,
                attended_s=proposal.load_s,
            )
    except NoRoom:
        return KilnOption(
            kiln=kiln, problems=("It is not free for that long within half a year.",)
        )
    cold_at = start + timedelta(seconds=proposal.opens_after_s)
    return KilnOption(
        kiln=kiln,
        problems=(),
        starts_at=start,
        opens_at=may_open_at(viewer.studio, cold_at),
    )


def _first_possible(
    kiln: Kiln, view: PieceView, kind: str
) -> tuple[Proposal | None, str]:
    """Return the next-row proposal, else the first rule that works, else why none does."""
    problem = ""
    for rule in RULE_TITLES:
        option = _rule_option(rule, view, kind, kiln)
        if option.proposal is not None:
            return option.proposal, ""
        problem = problem or option.problem
    return None, problem


def _rule_option(rule: str, view: PieceView, kind: str, kiln: Kiln) -> RuleOption:
    proposal, problem = None, ""
    try:
        proposal = propose_stack(
            kind=kind,
            rule=rule,
            thickness_mm=view.height_mm,
            glass=view.piece.glass,
            kiln=kiln,
        )
    except PhysicsProblem as refusal:
        problem = str(refusal)
    return RuleOption(
        rule=ScheduleRule(rule).value,
        title=RULE_TITLES[ScheduleRule(rule)],
        text=RULE_TEXTS[ScheduleRule(rule)],
        proposal=proposal,
        problem=problem,
    )
