"""What to plan: kilns, people, kinds of firing, pieces, and what does not move.

Plain values in whole slots of time. `reading` reads them from a file; how long a firing
takes is computed elsewhere and arrives here as a number.
"""

from dataclasses import dataclass, field
from enum import StrEnum

from studio.errors import StudioError

SLOTS_PER_HOUR = 2
SLOTS_PER_DAY = 48
SLOTS_PER_WEEK = 7 * SLOTS_PER_DAY
Window = tuple[int, int]


class Skill(StrEnum):
    """What a person can do for a piece."""

    PAINT = "paint"
    ASSEMBLE = "assemble"
    COLDWORK = "coldwork"


class PlanProblem(StudioError):
    """The facts to plan from are wrong, or no plan can satisfy them; `key` says where."""

    def __init__(self, key: str, message: str) -> None:
        super().__init__(f"{key}: {message}")
        self.key = key


@dataclass(frozen=True, slots=True, kw_only=True)
class EnamelKind:
    """A kind of enamel firing.

    Attributes
    ----------
    temp_f : float
        Top temperature [°F].
    run : int
        From the start to when the kiln may be opened [slots].
    load, unload : int
        Work at the kiln before and after [slots].
    gap_mm : float
        Between two layers on the shelf [mm]; none is owed to the shelf's edge.
    """

    id: str
    temp_f: float
    run: int
    load: int
    unload: int
    gap_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedKiln:
    """A kiln: shelf and height [mm], temperature [°F], energy, closed windows."""

    id: str
    width_mm: float
    depth_mm: float
    height_mm: float
    max_temp_f: float
    kwh_per_enamel_firing: float
    kwh_per_day_fuse: float
    maintenance: tuple[Window, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPerson:
    """Who works: skills, windows of availability, most slots of work in a week.

    `booked` is assigned work that does not move: it takes its time and counts towards
    the week's limit. `away` is what they would work if they were there: plans never use
    it, explanations do.
    """

    id: str
    skills: frozenset[Skill]
    available: tuple[Window, ...]
    weekly_cap: int
    booked: tuple[Window, ...] = ()
    away: tuple[Window, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedFiring:
    """Something already in a kiln, or promised so that it does not move."""

    id: str
    kiln: str
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPass:
    """A painting of a layer and the kind of firing that burns it on.

    Attributes
    ----------
    labour : int
        Painting that is left [slots]; 0 when it is painted and waits for a firing.
    not_before : int
        The layer is not at hand before this slot: it lies in a running firing.
    """

    kind: str
    labour: int
    not_before: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse:
    """The exclusive firing of the dammed stack: temperature [°F] and times [slots]."""

    temp_f: float
    run: int
    load: int
    unload: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedPiece:
    """What is left to do of one piece, in the order of the work.

    Attributes
    ----------
    due_day : int or None
        Day counted from slot 0 on which it should be with the client.
    layers : tuple
        Per layer the passes that are left; an empty one is clear glass or done.
    fuse : Fuse or None
        None once it is fused.
    assembly, coldwork : int
        Labour that is left [slots].
    layers_not_in, stack_not_in : frozenset of str
        Kilns that take no layer, or not the stack, for a reason found out elsewhere:
        no room for the dams, or a controller that cannot run the programme.
    """

    id: str
    artist: str
    release: int
    due_day: int | None
    weight: int
    width_mm: float
    depth_mm: float
    height_mm: float
    fuse: Fuse | None
    layers: tuple[tuple[PlannedPass, ...], ...]
    layer_height_mm: float
    assembly: int
    coldwork: int
    ship_days: int
    layers_not_in: frozenset[str] = frozenset()
    stack_not_in: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Everything a plan is made from; `remarks` are oddities that did not stop it."""

    horizon: int
    access: tuple[Window, ...]
    kinds: tuple[EnamelKind, ...]
    kilns: tuple[PlannedKiln, ...]
    people: tuple[PlannedPerson, ...]
    fixed: tuple[FixedFiring, ...]
    pieces: tuple[PlannedPiece, ...]
    remarks: tuple[str, ...] = field(default=())


def fits_flat(
    width_mm: float, depth_mm: float, *, shelf_width_mm: float, shelf_depth_mm: float
) -> bool:
    """Return whether a rectangle fits on a shelf, turned by a quarter or not.

    Parameters
    ----------
    width_mm, depth_mm, shelf_width_mm, shelf_depth_mm : float
        Sides [mm].

    References
    ----------
    Arithmetic.
    """
    return (width_mm <= shelf_width_mm and depth_mm <= shelf_depth_mm) or (
        depth_mm <= shelf_width_mm and width_mm <= shelf_depth_mm
    )


def takes_layer(kiln: PlannedKiln, kind: EnamelKind, piece: PlannedPiece) -> bool:
    """Say whether one layer of the piece can have this firing in this kiln.

    Parameters
    ----------
    kiln, kind, piece
        Sides and heights [mm], temperatures [°F].

    References
    ----------
    The rules of the plan: hot, large and high enough.
    """
    return (
        kiln.id not in piece.layers_not_in
        and kiln.max_temp_f >= kind.temp_f
        and kiln.height_mm >= piece.layer_height_mm
        and fits_flat(
            piece.width_mm,
            piece.depth_mm,
            shelf_width_mm=kiln.width_mm,
            shelf_depth_mm=kiln.depth_mm,
        )
    )


def takes_stack(kiln: PlannedKiln, piece: PlannedPiece) -> bool:
    """Say whether the dammed stack of the piece can be fused in this kiln.

    Parameters
    ----------
    kiln, piece
        Sides and heights [mm], temperatures [°F].

    References
    ----------
    The rules of the plan: hot, large and high enough.
    """
    return (
        piece.fuse is not None
        and kiln.id not in piece.stack_not_in
        and kiln.max_temp_f >= piece.fuse.temp_f
        and kiln.height_mm >= piece.height_mm
        and fits_flat(
            piece.width_mm,
            piece.depth_mm,
            shelf_width_mm=kiln.width_mm,
            shelf_depth_mm=kiln.depth_mm,
        )
    )


def fuse_kwh(kiln: PlannedKiln, run: int) -> float:
    """Return the energy of a fuse [kWh]: the kiln's rate times the days it runs.

    Parameters
    ----------
    kiln : PlannedKiln
        With `kwh_per_day_fuse`.
    run : int
        Length of the programme [slots].

    References
    ----------
    Definition of the rate.
    """
    return kiln.kwh_per_day_fuse * run / SLOTS_PER_DAY


def delivery_day(end: int, ship_days: int) -> int:
    """Return the day of delivery: that of the last worked slot, plus the shipping.

    Parameters
    ----------
    end : int
        First slot after the work [slots].
    ship_days : int
        Days under way.

    References
    ----------
    Slot 0 is Monday 00:00; a day has 48 slots.
    """
    return max(end - 1, 0) // SLOTS_PER_DAY + ship_days


def days_late(piece: PlannedPiece, day: int) -> int:
    """Return how many days after the due day the piece is ready; 0 without a due day.

    Parameters
    ----------
    piece : PlannedPiece
        With its `due_day`.
    day : int
        Day of delivery.

    References
    ----------
    Arithmetic.
    """
    return 0 if piece.due_day is None else max(0, day - piece.due_day)


def cut_out(
    windows: tuple[Window, ...], holes: tuple[Window, ...]
) -> tuple[Window, ...]:
    """Return what is left of windows when others are cut out of them, in order.

    Parameters
    ----------
    windows, holes : tuple of (start, end)
        Half open [slots].

    References
    ----------
    Arithmetic.
    """
    left = list(joined(windows))
    for begin, end in joined(holes):
        left = [
            part
            for a, b in left
            for part in ((a, min(b, begin)), (max(a, end), b))
            if part[0] < part[1]
        ]
    return joined(tuple(left))


def joined(windows: tuple[Window, ...]) -> tuple[Window, ...]:
    """Return windows in order, those that touch or overlap joined into one.

    Parameters
    ----------
    windows : tuple of (start, end)
        Half open [slots].

    References
    ----------
    Arithmetic.
    """
    result: list[Window] = []
    for start, end in sorted(windows):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return tuple(result)
