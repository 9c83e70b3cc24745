"""A design and what might go wrong with it, for the values that were asked."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from firing.models import ScheduleRule
from firing.physics.designing.design import Computed, Rule
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors import what_if
from firing.schedules.selectors.designs import (
    DesignAsked,
    ShownDesign,
    alone,
    request_for,
    shown_design,
)
from firing.schedules.selectors.fuse_anneal import OF_ENGINE
from firing.schedules.selectors.refusal_words import refusal_words
from firing.schedules.selectors.stress import Told, designed
from firing.schedules.selectors.stress_words import DesignOutcome, outcomes
from firing.schedules.selectors.what_if import WhatIf
from studio.models import Glass, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer

HOUR_S = 3600.0
# The default length of a power cut, and how finely it can be placed.
CUT_H = 3.0
CUT_STEP_H = 0.25
# The rule of the schedule that ignores the published table; no kiln is booked by it.
ALONE = "alone"
COMPUTED = ScheduleRule.COMPUTED.value


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignerInput(DesignAsked):
    """The designer's values: a design, and what might go wrong with it."""

    rule: str = COMPUTED
    is_thicker: bool = False
    is_off: bool = False
    is_cut: bool = False
    cut_at_h: float | None = None
    cut_h: float = CUT_H


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A design with the schedule that is looked at, and what might go wrong with that."""

    shown: ShownDesign
    chosen: Computed
    outcome: DesignOutcome
    every: Mapping[str, Computed]
    """By rule, the one that ignores the table included."""
    outcomes: Mapping[str, DesignOutcome]
    """What is said of each."""
    what_ifs: tuple[WhatIf, ...]
    problems: tuple[str, ...]
    cut: WhatIf | None
    cut_at_h: float
    last_h: int
    said: str
    """The result in one sentence, for who does not see it."""

    @property
    def cut_words(self) -> str:
        """Say where the power cut is, or that there is none."""
        return self.cut.at_words if self.cut is not None else "No power cut yet"


def with_rule(asked: DesignerInput, rule: str) -> DesignerInput:
    """Return the same request with another rule looked at."""
    return replace(asked, rule=rule)


def glasses(studio: Studio) -> StudioQuerySet[Glass]:
    """Return the glasses that a schedule can be designed for, by name."""
    return (
        Glass.owned.for_studio(studio).filter(is_retired=False).order_by("name", "pk")
    )


def tried(asked: DesignerInput, *, viewer: Viewer, told: Told | None = None) -> Tried:
    """Design a schedule, and compute what was asked to go wrong.

    Raises
    ------
    PhysicsProblem
        When there is no such schedule.
    """
    shown = shown_design(asked, viewer=viewer, told=told)
    design = shown.design
    every = {
        OF_ENGINE[one.rule].value: one for one in (design.proposed, *design.compared)
    }
    said = {OF_ENGINE[Rule(one.rule)].value: one for one in shown.outcomes}
    if asked.is_alone:
        without = designed(alone(request_for(asked)), told)
        every[ALONE] = without.proposed
        one = outcomes(without, viewer, {})[0]
        said[ALONE] = replace(one, title="Without the table")
    rule = asked.rule if asked.rule in every else COMPUTED
    chosen = every[rule]
    at_hand = replace(design, proposed=chosen)
    last_h = max(1, int(chosen.kiln_s / HOUR_S) - 1)
    cut_at_h = _cut_at_h(asked, chosen, last_h)
    found: list[WhatIf] = []
    problems: list[str] = []
    cut = None
    if asked.is_thicker:
        _add(found, problems, viewer, partial(what_if.thicker, at_hand, viewer))
    if asked.is_off:
        for by_k in (what_if.OFF_K, -what_if.OFF_K):
            _add(
                found,
                problems,
                viewer,
                partial(what_if.thermocouple_off, at_hand, viewer, by_k=by_k),
            )
    if asked.is_cut:
        cut = _add(
            found,
            problems,
            viewer,
            partial(
                what_if.power_cut,
                at_hand,
                viewer,
                at_s=cut_at_h * HOUR_S,
                lasts_s=asked.cut_h * HOUR_S,
            ),
        )
    return Tried(
        shown=shown,
        chosen=chosen,
        outcome=said[rule],
        every=every,
        outcomes=said,
        what_ifs=tuple(found),
        problems=tuple(problems),
        cut=cut,
        cut_at_h=cut_at_h,
        last_h=last_h,
        said=_said(said[rule], found, problems),
    )


def _said(one: DesignOutcome, found: list[WhatIf], problems: list[str]) -> str:
    """Say the outcome in one sentence, and the what-ifs in another."""
    words = [one.said]
    over = [what.title for what in found if not what.is_within]
    if over:
        words.append(f"Over a limit if: {'; '.join(over)}.")
    elif found:
        words.append("Within the limits in all that was tried.")
    if problems:
        words.append(f"{len(problems)} could not be computed.")
    return " ".join(words)


def _cut_at_h(asked: DesignerInput, chosen: Computed, last_h: int) -> float:
    """Return the hour of a cut: as requested, else an hour after the soak ended."""
    if asked.cut_at_h is not None:
        return min(max(0.0, round(asked.cut_at_h / CUT_STEP_H) * CUT_STEP_H), last_h)
    soak = next(
        place
        for place, segment in enumerate(chosen.schedule.segments)
        if segment.label == "anneal soak"
    )
    return min(last_h, int(chosen.curve.segment_ends_s[soak] / HOUR_S) + 1)


def _add(
    found: list[WhatIf],
    problems: list[str],
    viewer: Viewer,
    compute: Callable[[], WhatIf],
) -> WhatIf | None:
    try:
        one = compute()
    except PhysicsProblem as problem:
        problems.append(refusal_words(problem, viewer))
        return None
    found.append(one)
    return one
