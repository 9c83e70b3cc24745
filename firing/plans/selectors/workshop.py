"""A studio's kilns and kinds of firing for the planner, from the kilns' own programmes.

Programmes are computed once per translation; `problem` asks for those it needs.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from firing.loads.selectors.loads import share_programme
from firing.models import FiringKind, ScheduleRule
from firing.physics.schedule import PhysicsProblem
from firing.planning.problem import practice
from firing.planning.problem.problem import (
    SLOTS_PER_DAY,
    EnamelKind,
    Fuse,
    PlannedKiln,
    Window,
    fits_flat,
)
from firing.plans.selectors.ids import kiln_id
from firing.schedules.selectors.fits import peak_c, stack_problems
from firing.schedules.selectors.programmes import (
    Proposal,
    propose_enamel,
    propose_stack,
)
from studio.errors import Refused
from studio.models import Glass, Kiln
from studio.units import celsius_to_fahrenheit
from studio.viewer import Viewer

SLOT_S = 1800.0
# Six sheets of 3 mm: a kiln's energy for a day of a fuse is computed from these.
NOMINAL_STACK_MM = 18.0


def slots(seconds: float) -> int:
    """Return enough whole slots for a time, at least one."""
    return max(1, math.ceil(seconds / SLOT_S - 1e-9))


@dataclass(frozen=True, slots=True, kw_only=True)
class StackFits:
    """The fuse of a stack, as long as in the slowest kiln that takes it, and the rest."""

    fuse: Fuse
    height_mm: float
    not_in: frozenset[str]


class PlanWorkshop:
    """A studio's kilns and the programmes that its glasses need in them."""

    def __init__(
        self,
        kilns: Sequence[Kiln],
        glasses: Iterable[Glass],
        viewer: Viewer,
        *,
        rule: ScheduleRule,
    ) -> None:
        self.kilns = list(kilns)
        self.viewer = viewer
        self.rule = rule
        self._enamel: dict[tuple[int, int], Proposal | str] = {}
        self._stacks: dict[tuple[str, float, int, int], Proposal | str] = {}
        hottest_first = sorted(
            {glass.pk: glass for glass in glasses}.values(),
            key=lambda glass: (-glass.enamel_c, glass.pk),
        )
        self.glasses = hottest_first
        self.kind_of: dict[int, str] = {}
        self.kinds: tuple[EnamelKind, ...] = tuple(self._kinds(hottest_first))

    def _kinds(self, glasses: Sequence[Glass]) -> Iterable[EnamelKind]:
        """Yield one kind for all glasses that may share an enamel firing."""
        leaders: list[Glass] = []
        for glass in glasses:
            leader = next((one for one in leaders if share_programme(one, glass)), None)
            if leader is not None:
                self.kind_of[glass.pk] = self.kind_of[leader.pk]
                continue
            runs = [
                found.run.ready_s
                for kiln in self.kilns
                if not isinstance(found := self.enamel(glass, kiln), str)
            ]
            if not runs:
                continue
            leaders.append(glass)
            name = f"enamel {len(leaders)}"
            self.kind_of[glass.pk] = name
            yield EnamelKind(
                id=name,
                temp_f=celsius_to_fahrenheit(glass.enamel_c),
                run=slots(max(runs)),
                load=slots(practice.LOAD_SHEETS_S),
                unload=slots(practice.UNLOAD_S),
                gap_mm=practice.SHEET_GAP_MM,
            )

    def enamel(self, glass: Glass, kiln: Kiln) -> Proposal | str:
        """Return the enamel programme of a glass in a kiln, or why there is none."""
        key = (glass.pk, kiln.pk)
        if key not in self._enamel:
            self._enamel[key] = _tried(lambda: propose_enamel(glass=glass, kiln=kiln))
        return self._enamel[key]

    def stack(
        self, kind: str, thickness_mm: float, glass: Glass, kiln: Kiln
    ) -> Proposal | str:
        """Return a stack's programme in a kiln by the rule, or why there is none."""
        key = (kind, thickness_mm, glass.pk, kiln.pk)
        if key not in self._stacks:
            self._stacks[key] = _tried(
                lambda: propose_stack(
                    kind=kind,
                    rule=self.rule,
                    thickness_mm=thickness_mm,
                    glass=glass,
                    kiln=kiln,
                )
            )
        return self._stacks[key]

    def planned_kilns(
        self, closed: Mapping[int, tuple[Window, ...]]
    ) -> tuple[PlannedKiln, ...]:
        """Return the kilns as the planner's values."""
        return tuple(
            PlannedKiln(
                id=kiln_id(kiln.pk),
                width_mm=kiln.shelf_width_mm,
                depth_mm=kiln.shelf_depth_mm,
                height_mm=kiln.inner_height_mm,
                max_temp_f=celsius_to_fahrenheit(kiln.max_temperature_c),
                kwh_per_enamel_firing=self._enamel_kwh(kiln),
                kwh_per_day_fuse=self._fuse_kwh_a_day(kiln),
                maintenance=closed.get(kiln.pk, ()),
            )
            for kiln in self.kilns
        )

    def _enamel_kwh(self, kiln: Kiln) -> float:
        found = [self.enamel(glass, kiln) for glass in self.glasses]
        known = [one.run.energy_kwh for one in found if not isinstance(one, str)]
        return max(known, default=0.0)

    def _fuse_kwh_a_day(self, kiln: Kiln) -> float:
        rates = []
        for glass in self.glasses:
            one = self.stack(FiringKind.FULL_FUSE, NOMINAL_STACK_MM, glass, kiln)
            if not isinstance(one, str):
                run = slots(one.run.ready_s)
                rates.append(one.run.energy_kwh * SLOTS_PER_DAY / run)
        return max(rates, default=0.0)

    def layers_not_in(
        self, glasses: Sequence[Glass], *, width_mm: float, height_mm: float
    ) -> frozenset[str]:
        """Return the kilns that cannot burn enamel on sheets of all these glasses.

        Raises
        ------
        Refused
            When none can; says why, kiln by kiln.
        """
        reasons = {}
        for kiln in self.kilns:
            tried = [self.enamel(glass, kiln) for glass in glasses]
            why = [one for one in tried if isinstance(one, str)]
            if not fits_flat(
                width_mm,
                height_mm,
                shelf_width_mm=kiln.shelf_width_mm,
                shelf_depth_mm=kiln.shelf_depth_mm,
            ):
                shelf = self.viewer.size(kiln.shelf_width_mm, kiln.shelf_depth_mm)
                needs = self.viewer.size(width_mm, height_mm)
                why.append(f"Its shelf is {shelf}, the sheets are {needs}.")
            if why:
                reasons[kiln_id(kiln.pk)] = " ".join(why)
        self._refuse_if_none("burn on its enamel", reasons)
        return frozenset(reasons)

    def stack_fits(
        self,
        *,
        kind: str,
        thickness_mm: float,
        width_mm: float,
        height_mm: float,
        glass: Glass,
        is_dammed: bool,
    ) -> StackFits:
        """Return a stack's fuse and the kilns that cannot take it.

        Raises
        ------
        Refused
            When none can; says why, kiln by kiln.
        """
        reasons, runs = {}, []
        for kiln in self.kilns:
            why = stack_problems(
                kiln=kiln,
                kind=kind,
                width_mm=width_mm,
                depth_mm=height_mm,
                height_mm=thickness_mm,
                glass=glass,
                is_dammed=is_dammed,
                viewer=self.viewer,
            )
            found = self.stack(kind, thickness_mm, glass, kiln)
            if isinstance(found, str):
                why.append(found)
            else:
                runs.append((kiln_id(kiln.pk), found.run.ready_s))
            if why:
                reasons[kiln_id(kiln.pk)] = " ".join(why)
        self._refuse_if_none("fuse it", reasons)
        return StackFits(
            fuse=Fuse(
                temp_f=celsius_to_fahrenheit(peak_c(kind, glass)),
                run=slots(max(s for one, s in runs if one not in reasons)),
                load=slots(practice.LOAD_STACK_S),
                unload=slots(practice.UNLOAD_S),
            ),
            height_mm=practice.BELOW_STACK_MM + thickness_mm + practice.ABOVE_STACK_MM,
            not_in=frozenset(reasons),
        )

    def _refuse_if_none(self, what: str, reasons: Mapping[str, str]) -> None:
        if not self.kilns:
            raise Refused("The studio has no kiln in use. Add one first.")
        if len(reasons) == len(self.kilns):
            told = " ".join(
                f"{kiln.name}: {reasons[kiln_id(kiln.pk)]}" for kiln in self.kilns
            )
            raise Refused(f"No kiln can {what}. {told}")


def _tried(propose: Callable[[], Proposal]) -> Proposal | str:
    try:
        return propose()
    except PhysicsProblem as problem:
        return str(problem)
