"""The choice before a fuse: which kilns take the piece, and the rules side by side."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from firing.kiln_time.selectors.bookings import earliest_free_start, may_open_at
from firing.loads.selectors.planned import planned_stack
from firing.models import FiringKind, PlannedFiring, ScheduleRule
from firing.physics.schedule import PhysicsProblem
from firing.planning.spans.free_time import NoRoom
from firing.schedules.selectors.designs import (
    asked_for_piece,
    is_ready,
    propose,
)
from firing.schedules.selectors.fits import kilns, stack_problems
from firing.schedules.selectors.fuse_anneal import (
    RULE_TITLES,
    fuse_rule,
    row_for,
    rule_name,
)
from firing.schedules.selectors.limits import limits_of
from firing.schedules.selectors.programmes import Proposal
from firing.schedules.selectors.slabs import tension_in
from studio.models import Kiln
from studio.selectors.glass_checks import mixed_problems
from studio.selectors.pieces import PieceView
from studio.viewer import Viewer

COMPUTED = ScheduleRule.COMPUTED.value
NEXT_ROW = ScheduleRule.NEXT_ROW.value
RULE_TEXTS = {
    ScheduleRule.NEXT_ROW: (
        "One row thicker than the table's nearest: the habit of the trade, and the "
        "slowest."
    ),
    ScheduleRule.ROW: "The table's first row that is at least as thick.",
    ScheduleRule.EXACT: (
        "The table's own law at the measured height: least margin, shortest time."
    ),
    ScheduleRule.COMPUTED: (
        "The fewest hours within your limits of tension, never faster than the table's "
        "row."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleOption:
    """One rule and what it means in the chosen kiln, or why it cannot be used.

    A design that is not computed yet has neither a proposal nor a problem.
    """

    rule: str
    name: str
    text: str
    proposal: Proposal | None
    problem: str

    @property
    def is_usable(self) -> bool:
        return not self.problem


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnOption:
    """One kiln: when it could start, or why it cannot take the piece.

    `by` names the rule behind the times where it is not the chosen one.
    """

    kiln: Kiln
    problems: tuple[str, ...]
    starts_at: datetime | None = None
    opens_at: datetime | None = None
    by: str = ""

    @property
    def is_fit(self) -> bool:
        return not self.problems


@dataclass(frozen=True, slots=True, kw_only=True)
class FusePlan:
    """Everything the page offers before a schedule is saved.

    `chosen` is the rule offered first, `there` the chosen kiln's times by it, `usual`
    the studio's own rule.
    """

    view: PieceView
    kind: str
    kilns: tuple[KilnOption, ...]
    there: KilnOption | None
    rules: tuple[RuleOption, ...]
    chosen: RuleOption | None
    usual: ScheduleRule

    @property
    def usual_name(self) -> str:
        return RULE_TITLES[self.usual]

    @property
    def awaits_design(self) -> bool:
        """Return whether a rule could be used whose hours are not known yet."""
        return any(one.is_usable and one.proposal is None for one in self.rules)

    @property
    def kiln(self) -> Kiln | None:
        return None if self.there is None else self.there.kiln

    @property
    def kind_words(self) -> str:
        return FiringKind(self.kind).label


class Rules:
    """What each rule proposes for a piece, the chosen one first."""

    def __init__(self, view: PieceView, kind: str, rule: str, viewer: Viewer) -> None:
        self.view, self.kind, self.viewer = view, kind, viewer
        self.limits = limits_of(viewer.studio)
        self.there_mpa = tension_in(view.piece, kind)
        first = ScheduleRule(rule)
        self.order = (first, *(one for one in RULE_TITLES if one is not first))

    def options(self, kiln: Kiln) -> tuple[RuleOption, ...]:
        """Return every rule in a kiln."""
        return tuple(self._option(rule, kiln) for rule in self.order)

    def first_possible(self, kiln: Kiln) -> RuleOption:
        """Return the first rule whose hours are known: the chosen one, its row, others.

        Without any, the first that says why.
        """
        first, *others = self.order
        order = dict.fromkeys((first, row_for(first), *others))
        tried = [self._option(rule, kiln) for rule in order]
        known = (one for one in tried if one.proposal is not None)
        return next(known, None) or next(one for one in tried if one.problem)

    def _option(self, rule: ScheduleRule, kiln: Kiln) -> RuleOption:
        proposal, problem = None, ""
        try:
            proposal = self._proposal(rule, kiln)
        except PhysicsProblem as refusal:
            problem = str(refusal)
        row = proposal and proposal.row
        row_mm = row.thickness_m * 1000 if row else None
        return RuleOption(
            rule=rule.value,
            name=rule_name(rule, row_mm, self.viewer),
            text=RULE_TEXTS[rule],
            proposal=proposal,
            problem=problem,
        )

    def _proposal(self, rule: ScheduleRule, kiln: Kiln) -> Proposal | None:
        asked = asked_for_piece(
            self.view,
            kiln=kiln,
            kind=self.kind,
            limits=self.limits,
            there_mpa=self.there_mpa,
        )
        # A page does not wait for a design.
        is_known = rule != COMPUTED or is_ready(asked)
        return propose(asked, rule) if is_known else None


def plan_fuse(
    view: PieceView,
    *,
    kind: str,
    kiln: Kiln | None,
    viewer: Viewer,
    now: datetime,
    rule: str = "",
) -> FusePlan:
    """Compare kilns and rules; without a kiln, for the one that could be opened first.

    Without a rule the studio's own is offered first.
    """
    planned = planned_stack(view.piece, after=now)
    usual = fuse_rule(viewer.studio)
    rules = Rules(view, kind, rule or usual, viewer)
    options = tuple(
        _kiln_option(one, rules, now, planned) for one in kilns(viewer.studio)
    )
    fitting = [option for option in options if option.is_fit]
    if kiln is None and planned is not None:
        there = planned.booking.kiln_id
        kiln = next((one.kiln for one in fitting if one.kiln.pk == there), None)
    if kiln is None and fitting:
        kiln = min(fitting, key=_first_ready).kiln
    offered = () if kiln is None else rules.options(kiln)
    return FusePlan(
        view=view,
        kind=kind,
        kilns=options,
        there=next((one for one in options if one.kiln == kiln), None),
        rules=offered,
        chosen=next((one for one in offered if one.is_usable), None),
        usual=usual,
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
    kiln: Kiln, rules: Rules, now: datetime, planned: PlannedFiring | None
) -> KilnOption:
    problems = problems_of(kiln, rules.view, rules.kind, rules.viewer)
    if problems:
        return KilnOption(kiln=kiln, problems=tuple(problems))
    first = rules.first_possible(kiln)
    if first.proposal is None:
        return KilnOption(kiln=kiln, problems=(first.problem,))
    try:
        if planned is not None and planned.booking.kiln_id == kiln.pk:
            start = planned.booking.starts_at
        else:
            start = earliest_free_start(
                kiln=kiln,
                lasts_s=first.proposal.booking_s,
                after=now,
                attended_s=first.proposal.load_s,
            )
    except NoRoom:
        return KilnOption(
            kiln=kiln, problems=("It is not free for that long within half a year.",)
        )
    cold_at = start + timedelta(seconds=first.proposal.opens_after_s)
    return KilnOption(
        kiln=kiln,
        problems=(),
        starts_at=start,
        opens_at=may_open_at(rules.viewer.studio, cold_at),
        by="" if first.rule == rules.order[0] else first.name,
    )
