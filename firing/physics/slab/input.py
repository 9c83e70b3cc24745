"""The firing of a slab to compute, and how finely.

What cannot be computed is refused here, in words; `simulation` does the computing.
"""

from dataclasses import dataclass

import numpy as np

from firing.physics.glass.properties import Glass
from firing.physics.glass.viscosity import joins_c
from firing.physics.refusals import Cause, celsius, kelvin, metres, number, seconds
from firing.physics.schedule import FloatArray, PhysicsProblem
from firing.physics.slab.surroundings import Bending, Boundary

THINNEST_M, THICKEST_M = 5e-4, 0.5
COLDEST_C, HOTTEST_C = -50.0, 1200.0
LONGEST_HISTORY_S = 1e11

# 21 are enough for stress; a face that jumps by hundreds of degrees needs 25 for the
# middle to be right to a thousandth of the jump.
DEFAULT_NODES = 25

THINNEST_SHEET_M = 1e-4

# What a design leaves room for where nobody measured, from the slab's middle to its
# edge: an assumption of this project, without a source.
ROOM_K = 0.5
# More than this is a fault of the kiln or of the measurement.
MOST_EDGE_K, LONGEST_LEAD_S = 60.0, 7200.0
SMALLEST_M, WIDEST_M = 0.005, 3.0


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
        Where the sheets have become one [°C], see `viscosity.joins_c`.
    """

    sheet_m: float
    joins_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Across:
    """How uneven the kiln is over a slab.

    Attributes
    ----------
    radius_m : float
        From the slab's middle to its furthest edge: half its longest side [m].
    edge_k : tuple of two floats
        How much hotter the kiln is over that edge than over the middle while the glass
        anneals, from the least to the most it may be [K]; colder is negative. It is in
        proportion to how much hotter than the room the kiln is.
    lead_s : float
        How far ahead of the middle the edge heats and cools [s]: what a spread grows
        by, divided by the rate.
    is_counted : bool
        Whether a band holds it; otherwise it is only told.
    """

    radius_m: float
    edge_k: tuple[float, float] = (-ROOM_K, ROOM_K)
    lead_s: float = 0.0
    is_counted: bool = True

    def __post_init__(self) -> None:
        low_k, high_k = self.edge_k
        if not SMALLEST_M <= self.radius_m <= WIDEST_M:
            raise PhysicsProblem(
                Cause.RADIUS,
                radius=metres(self.radius_m),
                least=metres(SMALLEST_M),
                most=metres(WIDEST_M),
            )
        if not -MOST_EDGE_K <= low_k <= high_k <= MOST_EDGE_K:
            raise PhysicsProblem(Cause.SPREAD, most=kelvin(MOST_EDGE_K))
        if not abs(self.lead_s) <= LONGEST_LEAD_S:
            raise PhysicsProblem(Cause.LEAD)


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
            raise PhysicsProblem(Cause.NODES, nodes=str(self.nodes))
        if not 0.02 <= self.step_factor <= 8:
            raise PhysicsProblem(Cause.STEP_FACTOR, factor=number(self.step_factor))
        if self.most_steps < 1:
            raise PhysicsProblem(Cause.MOST_STEPS)


DEFAULT_ACCURACY = Accuracy()


@dataclass(frozen=True, slots=True, kw_only=True)
class SlabFiring:
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
    opened_s : float or None
        When it is taken out of the kiln [s]: from then on the history is the room's
        air, and both faces see `surroundings.IN_THE_ROOM`. None leaves it in.
    across : Across or None
        How uneven the kiln is over it; None is an even kiln. `band` computes it.
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
    opened_s: float | None = None
    across: Across | None = None

    def __post_init__(self) -> None:
        _check_firing(self)


def _check_firing(firing: SlabFiring) -> None:
    if not THINNEST_M <= firing.thickness_m <= THICKEST_M:
        raise PhysicsProblem(
            Cause.THICKNESS,
            thickness=metres(firing.thickness_m),
            least=metres(THINNEST_M),
            most=metres(THICKEST_M),
        )
    _check_history(firing.time_s, firing.kiln_c)
    _check_temperature("The glass at the start", firing.start_c)
    _check_temperature("The fictive temperature", firing.fictive_start_c)
    _check_temperature("The opening temperature", firing.opening_c)
    if firing.window_s is not None:
        start_s, end_s = firing.window_s
        if not start_s <= end_s:
            raise PhysicsProblem(Cause.WINDOW_BACKWARDS)
        if not (start_s <= firing.time_s[-1] and end_s >= firing.time_s[0]):
            raise PhysicsProblem(Cause.WINDOW_OUTSIDE)
    stack = firing.stack
    if stack is not None:
        if not THINNEST_SHEET_M <= stack.sheet_m <= firing.thickness_m:
            raise PhysicsProblem(
                Cause.SHEET_OF_STACK,
                sheet=metres(stack.sheet_m),
                thickness=metres(firing.thickness_m),
                least=metres(THINNEST_SHEET_M),
            )
        if not firing.glass.annealing_point_c < stack.joins_c <= HOTTEST_C:
            raise PhysicsProblem(
                Cause.JOINS_TOO_COLD,
                joins=celsius(stack.joins_c),
                usual=celsius(joins_c(firing.glass)),
            )


def _check_history(time_s: FloatArray, kiln_c: FloatArray) -> None:
    if time_s.ndim != 1 or time_s.shape != kiln_c.shape or time_s.size == 0:
        raise PhysicsProblem(Cause.HISTORY_SHAPE)
    for values, what in ((time_s, "times"), (kiln_c, "temperatures")):
        if not np.all(np.isfinite(values)):
            place = int(np.flatnonzero(~np.isfinite(values))[0])
            raise PhysicsProblem(
                Cause.HISTORY_NO_NUMBER,
                what=what,
                place=str(place + 1),
                value=str(values[place]),
            )
    if np.any(np.diff(time_s) < 0):
        place = int(np.flatnonzero(np.diff(time_s) < 0)[0])
        raise PhysicsProblem(
            Cause.HISTORY_BACKWARDS,
            place=str(place + 2),
            before=seconds(float(time_s[place])),
            after=seconds(float(time_s[place + 1])),
        )
    if max(abs(time_s[0]), abs(time_s[-1])) > LONGEST_HISTORY_S:
        raise PhysicsProblem(Cause.HISTORY_TOO_LONG)
    low_c, high_c = float(np.min(kiln_c)), float(np.max(kiln_c))
    if low_c < COLDEST_C or high_c > HOTTEST_C:
        wrong_c = low_c if low_c < COLDEST_C else high_c
        raise PhysicsProblem(
            Cause.HISTORY_OUT_OF_RANGE,
            wrong=celsius(wrong_c),
            low=celsius(COLDEST_C),
            high=celsius(HOTTEST_C),
        )


def _check_temperature(what: str, value_c: float | None) -> None:
    if value_c is not None and not COLDEST_C <= value_c <= HOTTEST_C:
        raise PhysicsProblem(
            Cause.MODEL_OUT_OF_RANGE,
            what=what,
            given=celsius(value_c),
            low=celsius(COLDEST_C),
            high=celsius(HOTTEST_C),
        )
