"""What the designer's page shows for the values it was given."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors import what_if
from firing.schedules.selectors.designs import (
    DesignAsked,
    ShownDesign,
    alone,
    request_for,
    shown_design,
)
from firing.schedules.selectors.refusal_words import refusal_words
from firing.schedules.selectors.stress import Told, designed
from firing.schedules.selectors.stress_words import DesignOutcome, outcomes
from firing.schedules.selectors.tables import SegmentRow, programme_rows
from firing.schedules.selectors.what_if import WhatIf
from studio.models import Glass, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer

HOUR_S = 3600.0
# The default length of a power cut, and how finely it can be placed.
CUT_H = 3.0
CUT_STEP_H = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignerInput(DesignAsked):
    """The designer's values: a design, and what might go wrong with it."""

    is_thicker: bool = False
    is_off: bool = False
    is_cut: bool = False
    cut_at_h: float | None = None
    cut_h: float = CUT_H


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A design, what might go wrong with it, and where a power cut was put."""

    shown: ShownDesign
    rows: tuple[SegmentRow, ...]
    what_ifs: tuple[WhatIf, ...]
    problems: tuple[str, ...]
    alone: DesignOutcome | None
    cut: WhatIf | None
    cut_at_h: float
    last_h: int
    height: str
    said: str
    """The result in one sentence, for who does not see it."""

    @property
    def cut_words(self) -> str:
        """Say where the power cut is, or that there is none."""
        return self.cut.at_words if self.cut is not None else "No power cut tried yet"


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
    proposed = shown.design.proposed
    last_h = max(1, int(proposed.kiln_s / HOUR_S) - 1)
    cut_at_h = _cut_at_h(asked, shown, last_h)
    found: list[WhatIf] = []
    problems: list[str] = []
    cut = None
    if asked.is_thicker:
        _add(found, problems, viewer, partial(what_if.thicker, shown.design, viewer))
    if asked.is_off:
        for by_k in (what_if.OFF_K, -what_if.OFF_K):
            _add(
                found,
                problems,
                viewer,
                partial(what_if.thermocouple_off, shown.design, viewer, by_k=by_k),
            )
    if asked.is_cut:
        cut = _add(
            found,
            problems,
            viewer,
            partial(
                what_if.power_cut,
                shown.design,
                viewer,
                at_s=cut_at_h * HOUR_S,
                lasts_s=asked.cut_h * HOUR_S,
            ),
        )
    return Tried(
        shown=shown,
        rows=tuple(programme_rows(proposed.schedule, asked.kiln, viewer)),
        what_ifs=tuple(found),
        problems=tuple(problems),
        alone=_alone(asked, viewer, told) if asked.is_alone else None,
        cut=cut,
        cut_at_h=cut_at_h,
        last_h=last_h,
        height=viewer.length(asked.thickness_mm),
        said=_said(shown, found, problems),
    )


def _said(shown: ShownDesign, found: list[WhatIf], problems: list[str]) -> str:
    """Say the outcome in one sentence, and the what-ifs in another."""
    words = [shown.said]
    over = [what.title for what in found if not what.is_within]
    if over:
        words.append(f"Over a limit if: {'; '.join(over)}.")
    elif found:
        words.append("Within the limits in all that was tried.")
    if problems:
        words.append(f"{len(problems)} could not be computed.")
    return " ".join(words)


def _alone(asked: DesignerInput, viewer: Viewer, told: Told | None) -> DesignOutcome:
    """Return the schedule by the limits alone, without the table's row."""
    design = designed(alone(request_for(asked)), told)
    first = outcomes(design, viewer, {})[0]
    return replace(first, title="By the limits alone", is_proposed=False)


def _cut_at_h(asked: DesignerInput, shown: ShownDesign, last_h: int) -> float:
    """Return the hour of a cut: as requested, else an hour after the soak ended."""
    if asked.cut_at_h is not None:
        return min(max(0.0, round(asked.cut_at_h / CUT_STEP_H) * CUT_STEP_H), last_h)
    proposed = shown.design.proposed
    soak = next(
        place
        for place, segment in enumerate(proposed.schedule.segments)
        if segment.label == "anneal soak"
    )
    return min(last_h, int(proposed.curve.segment_ends_s[soak] / HOUR_S) + 1)


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
