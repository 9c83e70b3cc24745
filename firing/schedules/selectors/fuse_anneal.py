"""How a studio anneals a fuse unless somebody chooses otherwise.

The rule decides which schedule is offered first. Kiln time that is counted before there
is a schedule (the plan, free time, estimates, dates at risk) comes from a row of the
table. A design takes seconds in each kiln, and whether one is cached is no fact that a
plan could be compared by, so with the computed design the next row's hours are counted
until a schedule is booked.
"""

from firing.models import FuseAnneal, Schedule, ScheduleRule
from firing.physics.designing.design import Rule
from studio.models import Studio
from studio.viewer import Viewer

DEFAULT = ScheduleRule.NEXT_ROW
RULE_TITLES = {
    ScheduleRule.NEXT_ROW: "Next row",
    ScheduleRule.ROW: "Published table",
    ScheduleRule.EXACT: "Exact thickness",
    ScheduleRule.COMPUTED: "Computed design",
}
# By the engine's own names.
OF_ENGINE = {
    Rule.DESIGN: ScheduleRule.COMPUTED,
    Rule.TABLE_ROW: ScheduleRule.ROW,
    Rule.NEXT_ROW: ScheduleRule.NEXT_ROW,
    Rule.EXACT: ScheduleRule.EXACT,
}


def fuse_rule(studio: Studio) -> ScheduleRule:
    """Return the rule that a fuse's schedule is first offered by."""
    own = FuseAnneal.owned.for_studio(studio).first()
    return DEFAULT if own is None else ScheduleRule(own.rule)


def is_by_design(studio: Studio) -> bool:
    """Return whether a computed design is offered first."""
    return fuse_rule(studio) is ScheduleRule.COMPUTED


def hours_rule(studio: Studio) -> ScheduleRule:
    """Return the row of the table by which kiln time is counted without a schedule."""
    return row_for(fuse_rule(studio))


def rule_name(rule: ScheduleRule, row_mm: float | None, viewer: Viewer) -> str:
    """Name a rule, with the thickness of the row that it takes from the table."""
    title = RULE_TITLES[rule]
    is_row = rule in (ScheduleRule.NEXT_ROW, ScheduleRule.ROW)
    if row_mm is None or not is_row:
        return title
    return f"{title}, {viewer.length(row_mm)}"


def name_of(schedule: Schedule, viewer: Viewer) -> str:
    """Name the rule of a fuse's stored schedule."""
    row_mm = schedule.basis.get("rule_thickness_mm")
    return rule_name(ScheduleRule(schedule.rule), row_mm, viewer)


def row_for(rule: ScheduleRule) -> ScheduleRule:
    """Return the row whose hours stand in for a rule's until its schedule is booked."""
    return ScheduleRule.NEXT_ROW if rule is ScheduleRule.COMPUTED else rule
