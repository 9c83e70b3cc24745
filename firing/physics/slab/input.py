"""The firing of a slab that is to be computed, and how finely.

What cannot be computed is refused here, in words; the computation is `simulation`.
"""

from dataclasses import dataclass

import numpy as np

from firing.physics.glass.properties import Glass
from firing.physics.schedule import FloatArray, PhysicsProblem
from firing.physics.slab.surroundings import Bending, Boundary

THINNEST_M, THICKEST_M = 5e-4, 0.5
COLDEST_C, HOTTEST_C = -50.0, 1200.0
LONGEST_HISTORY_S = 1e11

# 21 are enough for stress; a face that jumps by hundreds of degrees needs 25 for the
# middle to be right to a thousandth of the jump.
DEFAULT_NODES = 25

# Common practice, no source: sheets have become one piece.
STACK_JOINS_C = 670.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseStack:
    """Sheets that lie on each other until they fuse.

    Until the coldest glass reaches `joins_c`, heat passes through the whole stack as
    through one slab (perfect contact, an assumption), and each sheet carries its own
    stress. From then on it is one slab, free of stress.

    Attributes
    ----------
    sheet_m : float
        Thickness of one sheet [m].
    joins_c : float
        Where the sheets have become one [°C]; 650 to 700 is common practice.
    """

    sheet_m: float
    joins_c: float = STACK_JOINS_C


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """How finely a firing is computed.

    Each step's error is estimated and a step with too large a one is taken again. At
    the default, residual and peak stress of a firing are within 0.2 % or 0.003 MPa of
    the converged ones.

    Attributes
    ----------
    nodes : int
        Nodes through the thickness, odd, 5 to 401; one lies on each face.
    step_factor : float
        Scales the length of steps: a half halves them all. 0.02 to 8.
    most_steps : int
        Where to give up.
    """

    nodes: int = DEFAULT_NODES
    step_factor: float = 1.0
    most_steps: int = 500_000

    def __post_init__(self) -> None:
        if not (5 <= self.nodes <= 401 and self.nodes % 2):
            raise PhysicsProblem(
                f"The number of nodes is odd and 5 to 401, not {self.nodes}."
            )
        if not 0.02 <= self.step_factor <= 8:
            raise PhysicsProblem(
                f"The step factor is 0.02 to 8, not {self.step_factor:g}."
            )
        if self.most_steps < 1:
            raise PhysicsProblem("The number of steps to give up at is above zero.")


DEFAULT_ACCURACY = Accuracy()


@dataclass(frozen=True, slots=True, kw_only=True)
class Firing:
    """One firing of one slab.

    Attributes
    ----------
    glass : Glass
        What it is made of.
    thickness_m : float
        d [m], 0.0005 to 0.5.
    boundary : Boundary
        What its faces see.
    time_s, kiln_c : ndarray, shape (h,)
        The kiln's history [s, °C], straight between points; times never decrease, and
        two equal ones are a jump. One point is a history too.
    bending : Bending
        Free to bend, or held flat.
    start_c : float or None
        The glass, uniform, at the start [°C]; None is the kiln's first temperature.
    fictive_start_c : float or None
        Its fictive temperature [°C]; None is `start_c`, but not below that of a well
        annealed piece.
    stack : LooseStack or None
        Sheets that are still loose; None is one slab from the start.
    settle : bool
        Hold the last temperature until the slab is uniform before residuals are read.
    window_s : tuple of two floats or None
        What the window's results are over [s]; None is the whole history.
    opening_c : float
        Where the glass may be looked at [°C].
    is_relaxing : bool
        False: an elastic slab, without relaxation of any kind.
    """

    glass: Glass
    thickness_m: float
    boundary: Boundary
    time_s: FloatArray
    kiln_c: FloatArray
    bending: Bending = Bending.FREE
    start_c: float | None = None
    fictive_start_c: float | None = None
    stack: LooseStack | None = None
    settle: bool = True
    window_s: tuple[float, float] | None = None
    opening_c: float = 50.0
    is_relaxing: bool = True

    def __post_init__(self) -> None:
        _check_firing(self)


def _check_firing(firing: Firing) -> None:
    if not THINNEST_M <= firing.thickness_m <= THICKEST_M:
        raise PhysicsProblem(
            f"A thickness of {firing.thickness_m * 1000:g} mm cannot be computed; give "
            f"{THINNEST_M * 1000:g} to {THICKEST_M * 1000:g} mm."
        )
    _check_history(firing.time_s, firing.kiln_c)
    _check_temperature("The glass at the start", firing.start_c)
    _check_temperature("The fictive temperature", firing.fictive_start_c)
    _check_temperature("The opening temperature", firing.opening_c)
    if firing.window_s is not None:
        start_s, end_s = firing.window_s
        if not start_s <= end_s:
            raise PhysicsProblem("The window must end after it starts.")
        if not (start_s <= firing.time_s[-1] and end_s >= firing.time_s[0]):
            raise PhysicsProblem("The window lies outside the kiln's history.")
    stack = firing.stack
    if stack is not None:
        if not 1e-4 <= stack.sheet_m <= firing.thickness_m:
            raise PhysicsProblem(
                f"A sheet of {stack.sheet_m * 1000:g} mm does not fit a stack of "
                f"{firing.thickness_m * 1000:g} mm; give 0.1 mm up to the stack's height."
            )
        if not firing.glass.annealing_point_c < stack.joins_c <= HOTTEST_C:
            raise PhysicsProblem(
                f"Sheets do not fuse at {stack.joins_c:g} °C; the temperature at which "
                "they have become one lies above the annealing point, near 670 °C."
            )


def _check_history(time_s: FloatArray, kiln_c: FloatArray) -> None:
    if time_s.ndim != 1 or time_s.shape != kiln_c.shape or time_s.size == 0:
        raise PhysicsProblem(
            "The kiln's history needs as many temperatures as times, and at least one."
        )
    for values, what in ((time_s, "times"), (kiln_c, "temperatures")):
        if not np.all(np.isfinite(values)):
            place = int(np.flatnonzero(~np.isfinite(values))[0])
            raise PhysicsProblem(
                f"The {what} of the kiln's history are not all numbers: point "
                f"{place + 1} is {values[place]}. Leave it out or correct it."
            )
    if np.any(np.diff(time_s) < 0):
        place = int(np.flatnonzero(np.diff(time_s) < 0)[0])
        raise PhysicsProblem(
            f"Time goes backwards at point {place + 2} of the kiln's history, from "
            f"{time_s[place]:g} to {time_s[place + 1]:g} s. Put the points in order."
        )
    if max(abs(time_s[0]), abs(time_s[-1])) > LONGEST_HISTORY_S:
        raise PhysicsProblem(
            "The kiln's history is longer than the model goes: 1e11 s."
        )
    low_c, high_c = float(np.min(kiln_c)), float(np.max(kiln_c))
    if low_c < COLDEST_C or high_c > HOTTEST_C:
        wrong_c = low_c if low_c < COLDEST_C else high_c
        raise PhysicsProblem(
            f"The kiln's history goes to {wrong_c:g} °C; the model holds from "
            f"{COLDEST_C:g} to {HOTTEST_C:g} °C. Check the unit."
        )


def _check_temperature(what: str, value_c: float | None) -> None:
    if value_c is not None and not COLDEST_C <= value_c <= HOTTEST_C:
        raise PhysicsProblem(
            f"{what} is {value_c:g} °C; the model holds from {COLDEST_C:g} to "
            f"{HOTTEST_C:g} °C."
        )
