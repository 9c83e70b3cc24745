"""The schedules that a page offers to choose from, equal ones merged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from firing.kiln_time.selectors.fuses import KilnOption, RuleOption, Rules
from firing.kiln_time.selectors.offers import Offer
from firing.models import ScheduleRule
from firing.schedules.selectors.designer import ALONE, DesignerInput, Tried
from firing.schedules.selectors.fuse_anneal import RULE_TITLES
from firing.schedules.selectors.programmes import TABLE_KINDS, Proposal
from firing.schedules.selectors.stress_words import DesignOutcome, full_quarters
from firing.schedules.selectors.tables import SegmentRow, programme_rows
from studio.viewer import Viewer

ORDER = (
    ScheduleRule.COMPUTED,
    ScheduleRule.ROW,
    ScheduleRule.NEXT_ROW,
    ScheduleRule.EXACT,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One schedule: its rules, its hours, and what it does to the glass if computed."""

    rule: str
    name: str
    total: str
    option: RuleOption | None
    outcome: DesignOutcome | None
    is_chosen: bool

    @property
    def proposal(self) -> Proposal | None:
        """The schedule as the kiln would be booked for it."""
        return None if self.option is None else self.option.proposal

    @property
    def offer(self) -> Offer | None:
        return None if self.option is None else self.option.offer

    @property
    def problem(self) -> str:
        """Why no kiln is booked by it."""
        return "" if self.option is None else self.option.problem

    @property
    def is_bookable(self) -> bool:
        return self.proposal is not None and not self.problem

    @property
    def is_over(self) -> bool:
        return self.outcome is not None and not self.outcome.is_within

    @property
    def is_warning(self) -> bool:
        return self.outcome is not None and self.outcome.is_warning


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """Every schedule of a page, and the one that is shown."""

    every: tuple[Choice, ...]
    chosen: Choice | None
    rows: tuple[SegmentRow, ...]

    @property
    def awaits_design(self) -> bool:
        """Return whether the tension of the schedules is not known yet."""
        return all(one.outcome is None for one in self.every)


def glass_rules(
    asked: DesignerInput, *, viewer: Viewer, now: datetime
) -> Sequence[RuleOption]:
    """Return what each rule proposes for glass that is no piece, in one kiln."""
    rule = asked.rule if asked.rule in RULE_TITLES else ScheduleRule.COMPUTED
    rules = Rules(lambda _: asked, rule, viewer, now)
    return rules.options(
        KilnOption(kiln=asked.kiln, option=rules.first_possible(asked.kiln))
    )


def choices_of(
    options: Sequence[RuleOption],
    found: Tried | None,
    *,
    kind: str,
    rule: str,
    viewer: Viewer,
) -> Choices:
    """Return the schedules of a page, `rule` chosen.

    What is typed into the controller is the same for two rules: they are one choice.
    """
    said = {} if found is None else found.outcomes
    by_rule = {one.rule: one for one in options}
    groups: dict[object, list[str]] = {}
    for key in (*(one.value for one in ORDER), *((ALONE,) if ALONE in said else ())):
        option = by_rule.get(key)
        if key not in said and (option is None or kind not in TABLE_KINDS):
            continue
        proposal = option.proposal if option is not None else None
        same = key if proposal is None else proposal.fitted.segments
        groups.setdefault(same, []).append(key)
    every = tuple(
        _choice(rules, by_rule, said, rule=rule, viewer=viewer)
        for rules in groups.values()
    )
    chosen = next((one for one in every if one.is_chosen), None)
    if chosen is None:
        rows: Sequence[SegmentRow] = ()
    elif chosen.proposal is not None:
        kiln = chosen.proposal.kiln
        rows = programme_rows(chosen.proposal.fitted, kiln, viewer)
    elif found is not None:
        rows = programme_rows(found.chosen.schedule, None, viewer)
    else:
        rows = ()
    return Choices(every=every, chosen=chosen, rows=tuple(rows))


def _choice(
    rules: Sequence[str],
    by_rule: Mapping[str, RuleOption],
    said: Mapping[str, DesignOutcome],
    *,
    rule: str,
    viewer: Viewer,
) -> Choice:
    own = rule if rule in rules else rules[0]
    option, outcome = by_rule.get(own), said.get(own)
    first, *others = rules
    name = said[first].title if first in said else by_rule[first].name
    if option is not None and option.proposal is not None:
        total = viewer.duration(full_quarters(option.proposal.opens_after_s))
    else:
        total = "" if outcome is None else outcome.total
    return Choice(
        rule=own,
        name=" = ".join((name, *(RULE_TITLES[ScheduleRule(one)] for one in others))),
        total=total,
        option=option,
        outcome=outcome,
        is_chosen=own == rule,
    )
