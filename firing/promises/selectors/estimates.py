"""How much kiln time a piece will take before it exists, for quotes.

Counted from real shelf packing of equal sheets and from the programmes that would be
booked, in the studio's own kilns.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal

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

# Of a load that is shared.
SHARE_PLACES = Decimal("0.01")


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnTimeItem:
    """One kind of firing: which kiln, how many, and hours and energy for each.

    `hours_each` is how long the kiln is held, loading and unloading included. `loads` is
    how many firings' worth of shelf is used: the last load of equal sheets is seldom
    full, and others' work shares it.
    """

    kind: str
    kind_words: str
    kiln: Kiln
    firing_count: int
    loads: Decimal
    hours_each: float
    kwh_each: float
    explanation: str

    @property
    def hours(self) -> float:
        return float(self.loads) * self.hours_each

    @property
    def kwh(self) -> float:
        return float(self.loads) * self.kwh_each


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
    in_kilns: Mapping[str, int] | None = None,
    price_per_kwh: Decimal = Decimal(0),
) -> KilnTimeEstimate:
    """Estimate a piece's enamel firings and its fuse: what they take, in which kilns.

    Parameters
    ----------
    in_kilns : mapping
        Keys of the kilns by kind of firing. A kind that is not named goes into the
        kiln where its hours and its energy cost least.
    price_per_kwh : Decimal
        Of energy that the kilns' hourly rates do not include.

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
    wanted = in_kilns or {}
    items = []

    def allowed(kind: str) -> list[Kiln]:
        return [k for k in in_use if wanted.get(kind, k.pk) == k.pk] or in_use

    if painted_layer_count and passes_per_layer:
        items.append(
            _cheapest(
                allowed(FiringKind.ENAMEL),
                lambda kiln: _enamel(
                    kiln, sheet, glass, painted_layer_count, passes_per_layer, viewer
                ),
                price_per_kwh,
                what="burn on its enamel",
            )
        )
    items.append(
        _cheapest(
            allowed(FiringKind.FULL_FUSE),
            lambda kiln: _fuse(kiln, sheet, glass, stack_mm, is_dammed, rule, viewer),
            price_per_kwh,
            what="fuse it",
        )
    )
    return KilnTimeEstimate(items=tuple(items), stack_height_mm=stack_mm)


def _cheapest(
    in_use: list[Kiln],
    estimate: Callable[[Kiln], KilnTimeItem],
    price_per_kwh: Decimal,
    *,
    what: str,
) -> KilnTimeItem:
    """Return the item of the kiln whose hours and energy cost least, then the shortest."""
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
            float(item.kiln.hourly_rate) * item.hours + float(price_per_kwh) * item.kwh,
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
    shared = Decimal(passes * layers) / room
    return _item(
        propose_enamel(glass=glass, kiln=kiln),
        count=passes * loads,
        loads=shared.quantize(SHARE_PLACES, ROUND_UP),
        explanation=(
            f"{count_words(layers, 'layer')} with an image, {room} to a load of {kiln}: "
            f"{count_words(loads, 'load')} for each of "
            f"{count_words(passes, 'pass', 'passes')}, the last by its share of the shelf"
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
        loads=Decimal(1),
        explanation=(
            f"{viewer.length(stack_mm)} of glass in {kiln}, annealed as "
            f"{viewer.length(row_mm)}, down to "
            f"{viewer.temperature(float(proposal.run.temperature_c[-1]))}"
        ),
    )


def _item(
    proposal: Proposal, *, count: int, loads: Decimal, explanation: str
) -> KilnTimeItem:
    return KilnTimeItem(
        kind=FiringKind(proposal.kind).value,
        kind_words=FiringKind(proposal.kind).label,
        kiln=proposal.kiln,
        firing_count=count,
        loads=loads,
        hours_each=proposal.booking_s / 3600,
        kwh_each=proposal.run.energy_kwh,
        explanation=explanation,
    )
