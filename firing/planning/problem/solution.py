"""A plan as plain values, and the JSON it is written to and read from.

A plan says what happens; `check` says whether it keeps the rules.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from firing.planning.problem.problem import Skill, Window


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """A layer in an enamel firing: pass, and where it lies.

    Attributes
    ----------
    layer, position : int
        Layer of the piece and pass of the layer, both from 0 as in the problem's lists.
    x_mm, y_mm : float
        Corner from the shelf's front left corner [mm]; x along the width.
    is_turned : bool
        Turned by a quarter: its width lies along the shelf's depth.
    """

    piece: str
    layer: int
    position: int
    x_mm: float
    y_mm: float
    is_turned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class EnamelFiring:
    """Layers of one kind in one kiln [slots]."""

    id: str
    kiln: str
    kind: str
    load_start: int
    unload_start: int
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseFiring:
    """One stack in one kiln [slots]."""

    id: str
    kiln: str
    piece: str
    load_start: int
    unload_start: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Work of one person; `layer` and `position` only where it is painting [slots]."""

    piece: str
    task: Skill
    person: str
    segments: tuple[Window, ...]
    layer: int | None = None
    position: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """What happens when; `undelivered` names pieces without a place."""

    firings: tuple[EnamelFiring, ...] = ()
    fuses: tuple[FuseFiring, ...] = ()
    work: tuple[Task, ...] = ()
    delivery: Mapping[str, int] = field(default_factory=dict)
    undelivered: tuple[str, ...] = ()


TASK_WORDS = {
    Skill.PAINT: "paint",
    Skill.ASSEMBLE: "assembly",
    Skill.COLDWORK: "coldwork",
}


def plan_to_json(plan: Solution) -> dict[str, Any]:
    """Return the plan as the object that `plan_kilns` prints.

    Parameters
    ----------
    plan : Solution
        Any plan.

    References
    ----------
    The format is this project's own.
    """
    enamel = [
        {
            "id": one.id,
            "kiln": one.kiln,
            "kind": one.kind,
            "load_start": one.load_start,
            "unload_start": one.unload_start,
            "items": [
                {
                    "piece": item.piece,
                    "layer": item.layer,
                    "pass": item.position,
                    "x": item.x_mm,
                    "y": item.y_mm,
                    "rot": item.is_turned,
                }
                for item in one.items
            ],
        }
        for one in plan.firings
    ]
    fuses = [
        {
            "id": one.id,
            "kiln": one.kiln,
            "kind": "fuse",
            "piece": one.piece,
            "load_start": one.load_start,
            "unload_start": one.unload_start,
        }
        for one in plan.fuses
    ]
    work = [
        {
            "piece": one.piece,
            "task": TASK_WORDS[one.task],
            "layer": one.layer,
            "pass": one.position,
            "person": one.person,
            "segments": [list(segment) for segment in one.segments],
        }
        for one in plan.work
    ]
    return {
        "firings": enamel + fuses,
        "work": work,
        "delivery": dict(plan.delivery),
        "undelivered": list(plan.undelivered),
    }
