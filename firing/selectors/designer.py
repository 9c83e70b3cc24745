"""What the designer's page shows for the values it was asked with."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem
from firing.selectors import what_if
from firing.selectors.designs import ShownDesign, shown_design
from firing.selectors.stress import designed
from firing.selectors.stress_words import Outcome, outcomes
from firing.selectors.tables import SegmentRow, programme_rows
from firing.selectors.what_if import WhatIf
from studio.models import Glass, Kiln, Studio
from studio.reader import Reader
from studio.tenancy import StudioQuerySet

HOUR_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The designer's values."""

    kind: str
    thickness_mm: float
    glass: Glass
    kiln: Kiln
    is_dammed: bool
    limits: Limits
    is_alone: bool = False
    is_thicker: bool = False
    is_off: bool = False
    is_cut: bool = False
    cut_at_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """A design, the things that might go wrong with it, and where a cut was put."""

    shown: ShownDesign
    rows: tuple[SegmentRow, ...]
    what_ifs: tuple[WhatIf, ...]
    problems: tuple[str, ...]
    alone: Outcome | None
    cut: WhatIf | None
    cut_at_h: int
    last_h: int
    height: str


def glasses(studio: Studio) -> StudioQuerySet:
    """Return the glasses that a schedule can be designed for, by name."""
    return (
        Glass.owned.for_studio(studio).filter(is_retired=False).order_by("name", "pk")
    )


def tried(asked: Asked, *, reader: Reader) -> Tried:
    """Design, and compute what was asked to go wrong.

    Raises
    ------
    PhysicsProblem
        When there is no such schedule.
    """
    shown = shown_design(
        kind=asked.kind,
        thickness_mm=asked.thickness_mm,
        glass=asked.glass,
        kiln=asked.kiln,
        is_dammed=asked.is_dammed,
        limits=asked.limits,
        reader=reader,
    )
    proposed = shown.design.proposed
    last_h = max(1, int(proposed.kiln_s / HOUR_S) - 1)
    cut_at_h = _cut_at_h(asked, shown, last_h)
    found: list[WhatIf] = []
    problems: list[str] = []
    cut = None
    if asked.is_thicker:
        _add(found, problems, partial(what_if.thicker, shown.design, reader))
    if asked.is_off:
        for by_k in (what_if.OFF_K, -what_if.OFF_K):
            _add(
                found,
                problems,
                partial(what_if.thermocouple_off, shown.design, reader, by_k=by_k),
            )
    if asked.is_cut:
        cut = _add(
            found,
            problems,
            partial(what_if.power_cut, shown.design, reader, at_s=cut_at_h * HOUR_S),
        )
    return Tried(
        shown=shown,
        rows=tuple(programme_rows(proposed.schedule, asked.kiln, reader)),
        what_ifs=tuple(found),
        problems=tuple(problems),
        alone=_alone(shown, reader) if asked.is_alone else None,
        cut=cut,
        cut_at_h=cut_at_h,
        last_h=last_h,
        height=reader.length(asked.thickness_mm),
    )


def _alone(shown: ShownDesign, reader: Reader) -> Outcome:
    """Return the schedule that the limits alone allow, without the table's row."""
    design = designed(replace(shown.design.request, floor=None))
    first = outcomes(design, reader)[0]
    return replace(first, title="By the limits alone", is_proposed=False)


def _cut_at_h(asked: Asked, shown: ShownDesign, last_h: int) -> int:
    """Return the hour of a cut: as asked, else an hour after the soak ended."""
    if asked.cut_at_h is not None:
        return min(max(0, round(asked.cut_at_h)), last_h)
    proposed = shown.design.proposed
    soak = next(
        place
        for place, segment in enumerate(proposed.schedule.segments)
        if segment.label == "anneal soak"
    )
    return min(last_h, int(proposed.curve.segment_ends_s[soak] / HOUR_S) + 1)


def _add(
    found: list[WhatIf], problems: list[str], compute: Callable[[], WhatIf]
) -> WhatIf | None:
    try:
        one = compute()
    except PhysicsProblem as problem:
        problems.append(str(problem))
        return None
    found.append(one)
    return one
