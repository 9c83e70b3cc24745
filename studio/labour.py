"""Work by hand: a studio's tasks, each with its own rule, and what a stack takes by them.

Pure. A rule has three parts, any of which may be zero: minutes for the whole piece,
minutes for each thing that is counted (a layer, a cut, a pass, a firing), and minutes
for each square metre of an area (what is painted, the edges, the faces). Their sum is
rounded to whole minutes.

The usual numbers are this product's guess, no source: a painted piece of 20 layers of
12 x 8 in comes to about 60 hours with one pass a layer and 90 with two. A studio's own
records replace them, once somebody takes them over.
"""

from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from decimal import ROUND_HALF_UP, ROUND_UP, Decimal
from enum import StrEnum
from typing import Any, Self

ONE = Decimal(1)
# A layer is scored on each of its four sides.
CUTS_PER_LAYER = 4
# The tasks whose minutes are noted with each pass.
PAINTING, DECALS = "painting", "decals"


class Counted(StrEnum):
    """What some of a task's minutes are for each of."""

    NOTHING = ""
    LAYER = "layer"
    IMAGE = "layer with an image"
    CUT = "cut"
    PASS = "pass"
    DECAL = "decal"
    FIRING = "firing"


class Area(StrEnum):
    """What some of a task's minutes are for each square metre of."""

    NONE = ""
    PASSES = "painted"
    DECALS = "of decals"
    EDGES = "of edges"
    FACES = "of faces"


class Step(StrEnum):
    """The step of the work that a task belongs to, for whoever plans the work."""

    AROUND = "around"
    PREPARE = "prepare"
    PAINT = "paint"
    DECAL = "decal"
    ASSEMBLE = "assemble"
    FINISH = "finish"


class TaxClass(StrEnum):
    """Which of a studio's taxes a task is taxed with."""

    MAIN = "main"
    SECOND = "second"
    UNTAXED = "untaxed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """What one stack's work is counted by; areas in square metres."""

    layers: int = 0
    images: int = 0
    passes: int = 0
    decals: int = 0
    firings: int = 0
    painted_m2: Decimal = Decimal(0)
    decals_m2: Decimal = Decimal(0)
    edges_m2: Decimal = Decimal(0)
    faces_m2: Decimal = Decimal(0)

    def count(self, of: Counted) -> int:
        """Return how many of it there are."""
        return {
            Counted.NOTHING: 0,
            Counted.LAYER: self.layers,
            Counted.IMAGE: self.images,
            Counted.CUT: self.layers * CUTS_PER_LAYER,
            Counted.PASS: self.passes,
            Counted.DECAL: self.decals,
            Counted.FIRING: self.firings,
        }[of]

    def area(self, of: Area) -> Decimal:
        """Return its square metres."""
        return {
            Area.NONE: Decimal(0),
            Area.PASSES: self.painted_m2,
            Area.DECALS: self.decals_m2,
            Area.EDGES: self.edges_m2,
            Area.FACES: self.faces_m2,
        }[of]


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A task and its rule.

    Attributes
    ----------
    key : str
        What it is, whatever it is called.
    minutes, minutes_each, minutes_per_m2 : Decimal
        For the piece, for each thing that is `counted`, for a square metre of `area`.
    is_once : bool
        Whether a maquette takes none of its minutes for the piece.
    factor : Decimal
        How much more or less than the rule one work takes.
    """

    key: str
    name: str
    step: Step = Step.AROUND
    minutes: Decimal = Decimal(0)
    counted: Counted = Counted.NOTHING
    minutes_each: Decimal = Decimal(0)
    area: Area = Area.NONE
    minutes_per_m2: Decimal = Decimal(0)
    is_once: bool = False
    tax: TaxClass = TaxClass.MAIN
    factor: Decimal = ONE

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Return the task that `as_json` wrote."""
        numbers = ("minutes", "minutes_each", "minutes_per_m2", "factor")
        kinds = {"step": Step, "counted": Counted, "area": Area, "tax": TaxClass}
        return cls(
            **stored
            | {name: Decimal(stored[name]) for name in numbers}
            | {name: kind(stored[name]) for name, kind in kinds.items()}
        )

    def as_json(self) -> dict[str, Any]:
        """Return the task with its numbers as texts, to stay exact."""
        return {
            name: str(value) if isinstance(value, Decimal | StrEnum) else value
            for name, value in asdict(self).items()
        }

    def minutes_of(self, *works: Measures) -> Decimal:
        """Return the whole minutes of a piece, and of its maquette if that is given too."""
        exact = self.by_rule(*works) * self.factor
        return exact.quantize(ONE, ROUND_HALF_UP)

    def by_rule(self, *works: Measures) -> Decimal:
        """Return the same by the rule alone."""
        return sum(
            (
                self._rule(work, is_maquette=bool(number))
                for number, work in enumerate(works)
            ),
            Decimal(0),
        )

    def _rule(self, work: Measures, *, is_maquette: bool) -> Decimal:
        """Return the whole minutes that a stack takes by the rule.

        A task that is counted, of which there is nothing, takes none at all: no
        decals, no time to lay them out.
        """
        count, area = work.count(self.counted), work.area(self.area)
        is_by_measure = self.counted or self.area
        if is_by_measure and not count and not area:
            return Decimal(0)
        fixed = Decimal(0) if self.is_once and is_maquette else self.minutes
        exact = fixed + self.minutes_each * count + self.minutes_per_m2 * area
        return exact.quantize(ONE, ROUND_HALF_UP)

    def minutes_of_maquette(self, work: Measures) -> Decimal:
        """Return the whole minutes of a maquette alone."""
        exact = self._rule(work, is_maquette=True) * self.factor
        return exact.quantize(ONE, ROUND_HALF_UP)

    def set_to(self, minutes: Decimal, *, by_rule: Decimal) -> Self:
        """Return the task as taking these minutes, where its rule says others.

        Kept as a share of the rule, so that a larger work still takes longer. Where the
        rule gives nothing the minutes are those of the piece.
        """
        if by_rule:
            return replace(self, factor=minutes / by_rule)
        return replace(
            self,
            minutes=minutes,
            counted=Counted.NOTHING,
            area=Area.NONE,
            is_once=True,
            factor=ONE,
        )


def measures(
    *,
    width_mm: float,
    height_mm: float,
    thickness_mm: float,
    layers: int,
    images: int,
    passes: int,
    decals: int,
    firings: int = 0,
) -> Measures:
    """Return the measures of a stack of equal sheets.

    Parameters
    ----------
    images : int
        Layers with an image.
    passes, decals : int
        Passes of paint and of decals over all layers; each covers the whole sheet.
    """
    width, height, thick = (
        Decimal(str(mm)) / 1000 for mm in (width_mm, height_mm, thickness_mm)
    )
    face = width * height
    return Measures(
        layers=layers,
        images=images,
        passes=passes,
        decals=decals,
        firings=firings,
        painted_m2=face * passes,
        decals_m2=face * decals,
        edges_m2=2 * (width + height) * thick,
        faces_m2=2 * face,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchTimes:
    """Whole minutes of the steps of one piece, as plans count them."""

    painting_minutes_per_pass: int
    decal_minutes_per_pass: int
    cutting_minutes_per_layer: int
    assembly_minutes: int
    coldwork_minutes: int

    def minutes_of_pass(self, *, is_decal: bool) -> int:
        """Return the minutes of one pass."""
        return (
            self.decal_minutes_per_pass if is_decal else self.painting_minutes_per_pass
        )


def bench_times(
    tasks: Iterable[Task], work: Measures, *, is_maquette: bool = False
) -> BenchTimes:
    """Return the minutes of each step of a piece; parts of a minute count as one.

    What prepares a layer (its design, its cutting) is divided among the layers.
    """
    every = tuple(tasks)

    def of(step: Step, among: int = 1) -> int:
        minutes = sum(
            task.minutes_of_maquette(work) if is_maquette else task.minutes_of(work)
            for task in every
            if task.step is step
        )
        return int((minutes / Decimal(max(among, 1))).quantize(ONE, ROUND_UP))

    return BenchTimes(
        painting_minutes_per_pass=of(Step.PAINT, work.passes),
        decal_minutes_per_pass=of(Step.DECAL, work.decals),
        cutting_minutes_per_layer=of(Step.PREPARE, work.layers),
        assembly_minutes=of(Step.ASSEMBLE),
        coldwork_minutes=of(Step.FINISH),
    )


# This product's guess, no source: see the module's words.
USUAL_TASKS = (
    Task(
        key="client", name="Talks with the client", minutes=Decimal(180), is_once=True
    ),
    Task(
        key="design",
        name="Design and separations",
        step=Step.PREPARE,
        minutes=Decimal(120),
        counted=Counted.IMAGE,
        minutes_each=Decimal(20),
        is_once=True,
    ),
    Task(
        key="cutting",
        name="Cutting and cleaning",
        step=Step.PREPARE,
        counted=Counted.CUT,
        minutes_each=Decimal(3),
    ),
    Task(
        key=PAINTING,
        name="Painting",
        step=Step.PAINT,
        counted=Counted.PASS,
        minutes_each=Decimal(15),
        area=Area.PASSES,
        minutes_per_m2=Decimal(1000),
    ),
    Task(
        key=DECALS,
        name="Setting decals",
        step=Step.DECAL,
        counted=Counted.DECAL,
        minutes_each=Decimal(15),
        area=Area.DECALS,
        minutes_per_m2=Decimal(300),
    ),
    Task(
        key="loading",
        name="Loading and unloading",
        counted=Counted.FIRING,
        minutes_each=Decimal(30),
    ),
    Task(
        key="stacking",
        name="Registration and stacking",
        step=Step.ASSEMBLE,
        minutes=Decimal(30),
        counted=Counted.LAYER,
        minutes_each=Decimal(12),
    ),
    Task(
        key="dams",
        name="Dams",
        step=Step.ASSEMBLE,
        minutes=Decimal(30),
        area=Area.EDGES,
        minutes_per_m2=Decimal(500),
    ),
    Task(
        key="edges",
        name="Cold work, edges",
        step=Step.FINISH,
        minutes=Decimal(30),
        area=Area.EDGES,
        minutes_per_m2=Decimal(4500),
    ),
    Task(
        key="faces",
        name="Cold work, faces",
        step=Step.FINISH,
        area=Area.FACES,
        minutes_per_m2=Decimal(2000),
    ),
    Task(key="inspecting", name="Inspecting", step=Step.FINISH, minutes=Decimal(30)),
    Task(
        key="photographs",
        name="Photographs",
        step=Step.FINISH,
        minutes=Decimal(60),
        is_once=True,
    ),
    Task(
        key="packing",
        name="Packing",
        step=Step.FINISH,
        minutes=Decimal(60),
        is_once=True,
    ),
    Task(key="delivery", name="Delivery", minutes=Decimal(60), is_once=True),
)
