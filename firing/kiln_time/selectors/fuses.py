"""The choice before a fuse: which kilns take the piece, and the rules side by side."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import partial

from firing.kiln_time.selectors.free_starts import NOT_FREE, Free
from firing.kiln_time.selectors.offers import Offer, offer_of
from firing.kiln_time.selectors.unloading import Unloading
from firing.loads.selectors.planned import planned_stack
from firing.models import FiringKind, PlannedFiring, ScheduleRule
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors.designs import (
    DesignAsked,
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


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleOption:
    """One rule and what it means in a kiln, or why it cannot be used.

    A design that is not computed yet has neither a proposal nor a problem; `offer` is
    when the proposal could run.
    """

    rule: str
    name: str
    proposal: Proposal | None = None
    offer: Offer | None = None
    problem: str = ""

    @property
    def is_usable(self) -> bool:
        return not self.problem


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnOption:
    """One kiln with the rule it is offered by, or why it cannot take the piece."""

    kiln: Kiln
    problems: tuple[str, ...] = ()
    option: RuleOption | None = None

    @property
    def is_fit(self) -> bool:
        return not self.problems

    @property
    def offer(self) -> Offer | None:
        return None if self.option is None else self.option.offer


class Why(StrEnum):
    """Why the page shows a kiln, in words."""

    CHOSEN = ""
    PLANNED = "The plan has the piece in the one that is chosen."
    FIRST = "The one that can be opened first is chosen."
    FIRST_SO_FAR = (
        "The one that can be opened first is chosen, by the rules that are computed "
        "so far."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FusePlan:
    """Everything the page offers before a schedule is saved.

    `there` is the chosen kiln with the rule offered first, `usual` the studio's own
    rule.
    """

    view: PieceView
    kind: str
    kilns: tuple[KilnOption, ...]
    why: Why
    there: KilnOption | None
    rules: tuple[RuleOption, ...]
    usual: ScheduleRule

    @property
    def chosen(self) -> RuleOption | None:
        """The rule of headline and main button: the first whose hours are known."""
        return None if self.there is None else self.there.option

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
    """What each rule proposes for a piece or other glass, the chosen one first."""

    def __init__(
        self,
        asked_in: Callable[[Kiln], DesignAsked],
        rule: str,
        viewer: Viewer,
        now: datetime,
        *,
        planned: PlannedFiring | None = None,
    ) -> None:
        self.asked_in, self.viewer, self.now = asked_in, viewer, now
        self.planned = planned
        self.unloading = Unloading(viewer.studio, now)
        self.free: dict[int, Free] = {}
        first = ScheduleRule(rule)
        self.order = (first, *(one for one in RULE_TITLES if one is not first))

    def options(self, there: KilnOption) -> tuple[RuleOption, ...]:
        """Return every rule in a kiln; the one it is offered by as it was found."""
        known = there.option
        return tuple(
            known
            if known is not None and known.rule == rule.value
            else self._option(rule, there.kiln)
            for rule in self.order
        )

    def first_possible(self, kiln: Kiln) -> RuleOption:
        """Return the first rule with a time: the chosen one, its row, others.

        Without any, the first that says why.
        """
        first, *others = self.order
        order = dict.fromkeys((first, row_for(first), *others))
        tried = []
        for rule in order:
            tried.append(self._option(rule, kiln))
            if tried[-1].offer is not None:
                return tried[-1]
        return next(one for one in tried if one.problem)

    def _option(self, rule: ScheduleRule, kiln: Kiln) -> RuleOption:
        proposal, offer, problem = None, None, ""
        try:
            proposal = self._proposal(rule, kiln)
        except PhysicsProblem as refusal:
            problem = str(refusal)
        if proposal is not None:
            offer = offer_of(
                self._free_in(kiln),
                proposal.run,
                load_s=proposal.load_s,
                planned=self.planned,
            )
            problem = "" if offer else NOT_FREE.format(kiln="It")
        row = proposal and proposal.row
        row_mm = row.thickness_m * 1000 if row else None
        return RuleOption(
            rule=rule.value,
            name=rule_name(rule, row_mm, self.viewer),
            proposal=proposal,
            offer=offer,
            problem=problem,
        )

    def _free_in(self, kiln: Kiln) -> Free:
        """Read a kiln once for all its rules."""
        if kiln.pk not in self.free:
            self.free[kiln.pk] = Free(
                kiln, self.now, now=self.now, unloading=self.unloading
            )
        return self.free[kiln.pk]

    def _proposal(self, rule: ScheduleRule, kiln: Kiln) -> Proposal | None:
        asked = self.asked_in(kiln)
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
    limits: Limits | None = None,
) -> FusePlan:
    """Compare kilns and rules; without a kiln, for the one that could be opened first.

    Without a rule the studio's own is offered first, without limits by the studio's.
    """
    usual = fuse_rule(viewer.studio)
    asked_in = partial(
        asked_for_piece,
        view,
        kind=kind,
        limits=limits or limits_of(viewer.studio),
        there_mpa=tension_in(view.piece, kind),
    )
    rules = Rules(
        lambda kiln: asked_in(kiln=kiln),
        rule or usual,
        viewer,
        now,
        planned=planned_stack(view.piece, after=now),
    )
    options = tuple(
        _kiln_option(one, rules, problems_of(one, view, kind, viewer))
        for one in kilns(viewer.studio)
    )
    there, why = _choose(options, kiln, rules)
    return FusePlan(
        view=view,
        kind=kind,
        kilns=options,
        why=why,
        there=there,
        rules=() if there is None else rules.options(there),
        usual=usual,
    )


def _choose(
    options: Sequence[KilnOption], kiln: Kiln | None, rules: Rules
) -> tuple[KilnOption | None, Why]:
    """Return the kiln somebody chose, else the plan's, else the first to be opened."""
    if kiln is not None:
        return next((one for one in options if one.kiln == kiln), None), Why.CHOSEN
    fitting = [(one.offer.opened_at, one.kiln.pk, one) for one in options if one.offer]
    if rules.planned is not None:
        there = rules.planned.booking.kiln_id
        for *_, one in fitting:
            if one.kiln.pk == there:
                return one, Why.PLANNED
    if not fitting:
        return None, Why.CHOSEN
    *_, first = min(fitting)
    by = {one.option.rule for *_, one in fitting if one.option}
    return first, Why.FIRST if len(by) == 1 else Why.FIRST_SO_FAR


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


def _kiln_option(kiln: Kiln, rules: Rules, problems: Sequence[str]) -> KilnOption:
    if problems:
        return KilnOption(kiln=kiln, problems=tuple(problems))
    option = rules.first_possible(kiln)
    if option.offer is None:
        return KilnOption(kiln=kiln, problems=(option.problem,))
    return KilnOption(kiln=kiln, option=option)
