"""How much kiln time a piece will take before it exists, for quotes.

Counted from real shelf packing of equal sheets and from the programmes that would be
booked, in the studio's own kilns.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from firing.models import FiringKind
from firing.physics.schedule import PhysicsProblem
from firing.planning.packing.shelf import Flat, capacity
from firing.planning.problem import practice
from firing.schedules.selectors.fits import kilns, stack_problems
from firing.schedules.selectors.fuse_anneal import hours_rule
from firing.schedules.selectors.programmes import (
    Proposal,
    propose_enamel,
    propose_stack,
)
from studio.errors import Refused
from studio.models import Glass, Kiln, Studio
from studio.viewer import Viewer, count_words


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnTimeItem:
    """One kind of firing: which kiln, how many, and hours and energy for each.

    `hours_each` is how long the kiln is held, loading and unloading included.
    """

    kind: str
    kind_words: str
    kiln: Kiln
    firing_count: int
    hours_each: float
    kwh_each: float
    explanation: str

    @property
    def hours(self) -> float:
        return self.firing_count * self.hours_each

    @property
    def kwh(self) -> float:
        return self.firing_count * self.kwh_each


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnTimeEstimate:
    """All the kiln time of one piece."""

    items: tuple[KilnTimeItem, ...]
    stack_height_mm: float


def estimate_kiln_time(
    *,
    studio: Studio,
    width_mm: float,
    height_mm: float,
    layer_count: int,
    painted_layer_count: int,
    passes_per_layer: int,
    glass: Glass,
    is_dammed: bool,
) -> KilnTimeEstimate:
    """Estimate a piece's enamel firings and its fuse in the kilns that suit it best.

    Raises
    ------
    Refused
        When no kiln can take it; says why, kiln by kiln.
    """
    viewer = Viewer.of_studio(studio)
    in_use = list(kilns(studio))
    if not in_use:
        raise Refused("The studio has no kiln yet. Add one before you quote.")
    stack_mm = layer_count * glass.sheet_thickness_mm
    sheet = Flat(key=0, width_mm=width_mm, depth_mm=height_mm)
    rule = hours_rule(studio)
    items = []
    if painted_layer_count and passes_per_layer:
        items.append(
            _cheapest(
                in_use,
                lambda kiln: _enamel(
                    kiln, sheet, glass, painted_layer_count, passes_per_layer, viewer
                ),
                what="burn on its enamel",
            )
        )
    items.append(
        _cheapest(
            in_use,
            lambda kiln: _fuse(kiln, sheet, glass, stack_mm, is_dammed, rule, viewer),
            what="fuse it",
        )
    )
    return KilnTimeEstimate(items=tuple(items), stack_height_mm=stack_mm)


def _cheapest(
    in_use: list[Kiln], estimate: Callable[[Kiln], KilnTimeItem], *, what: str
) -> KilnTimeItem:
    """Return the cheapest kiln's item; without rates, the one with fewest hours."""
    found, reasons = [], []
    for kiln in in_use:
        try:
            found.append(estimate(kiln))
        except (Refused, PhysicsProblem) as problem:
            reasons.append(f"{kiln}: {problem}")
    if not found:
        raise Refused(f"No kiln can {what}. " + " ".join(reasons))
    return min(
        found,
        key=lambda item: (
            float(item.kiln.hourly_rate) * item.hours,
            item.hours,
            item.kiln.pk,
        ),
    )


def _enamel(
    kiln: Kiln, sheet: Flat, glass: Glass, layers: int, passes: int, viewer: Viewer
) -> KilnTimeItem:
    room = capacity(
        sheet,
        count=layers,
        width_mm=kiln.shelf_width_mm,
        depth_mm=kiln.shelf_depth_mm,
        gap_mm=practice.SHEET_GAP_MM,
    )
    if not room:
        raise Refused(
            f"its shelf is {viewer.size(kiln.shelf_width_mm, kiln.shelf_depth_mm)}, "
            f"the sheets are {viewer.size(sheet.width_mm, sheet.depth_mm)}."
        )
    loads = math.ceil(layers / room)
    return _item(
        propose_enamel(glass=glass, kiln=kiln),
        count=passes * loads,
        explanation=(
            f"{count_words(layers, 'painted layer')}, {room} to a load of {kiln}: "
            f"{count_words(loads, 'load')} for each of {count_words(passes, 'pass', 'passes')}"
        ),
    )


def _fuse(
    kiln: Kiln,
    sheet: Flat,
    glass: Glass,
    stack_mm: float,
    is_dammed: bool,  # noqa: FBT001 - passed on by one caller
    rule: str,
    viewer: Viewer,
) -> KilnTimeItem:
    problems = stack_problems(
        kiln=kiln,
        kind=FiringKind.FULL_FUSE,
        width_mm=sheet.width_mm,
        depth_mm=sheet.depth_mm,
        height_mm=stack_mm,
        glass=glass,
        is_dammed=is_dammed,
        viewer=viewer,
    )
    if problems:
        raise Refused(" ".join(problems))
    proposal = propose_stack(
        kind=FiringKind.FULL_FUSE,
        rule=rule,
        thickness_mm=stack_mm,
        glass=glass,
        kiln=kiln,
    )
    row_mm = proposal.row.thickness_m * 1000 if proposal.row else stack_mm
    return _item(
        proposal,
        count=1,
        explanation=(
            f"{viewer.length(stack_mm)} of glass in {kiln}, annealed as "
            f"{viewer.length(row_mm)}, down to "
            f"{viewer.temperature(float(proposal.run.temperature_c[-1]))}"
        ),
    )


def _item(proposal: Proposal, *, count: int, explanation: str) -> KilnTimeItem:
    return KilnTimeItem(
        kind=FiringKind(proposal.kind).value,
        kind_words=FiringKind(proposal.kind).label,
        kiln=proposal.kiln,
        firing_count=count,
        hours_each=proposal.booking_s / 3600,
        kwh_each=proposal.run.energy_kwh,
        explanation=explanation,
    )
