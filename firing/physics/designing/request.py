"""What a schedule is designed for: the glass, the kiln, the limits, and their checks.

`design` does the designing.
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum

from firing.physics.designing.annealing_table import (
    AnnealRow,
    CoolingRates,
    row_at_or_above,
)
from firing.physics.designing.band import Uncertainty
from firing.physics.designing.programmes import (
    ENAMEL,
    ENAMEL_COOLING_RATE_C_PER_H,
    ENAMEL_SOAK_S,
    FULL_FUSE,
    ROOM_C,
    SHEET_THICKNESS_LIMIT_M,
    SLUMP,
    TACK_FUSE,
    ProcessHold,
)
from firing.physics.glass.properties import Glass, soak_of
from firing.physics.glass.viscosity import as_soft_as_ninety
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.offset import check_offset
from firing.physics.limits import Limits
from firing.physics.refusals import Cause, celsius, metres
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import Across
from firing.physics.slab.surroundings import (
    AT_KILN_TEMPERATURE,
    TOP_ONLY_FILM,
    Bending,
    Boundary,
    Face,
)
from studio.units import TemperatureUnit, fahrenheit_difference_to_celsius

OPENING_C = 50.0
SHEET_M = 0.003

# A slab's old stress is gone where the glass relaxes within minutes, even if its
# annealing point is as high as it may be. The kiln goes this much further [K], so that
# the glass gets there in the end.
REACH_K = 5.0


class Kind(StrEnum):
    """What a firing is for, in the workshop's words."""

    FULL_FUSE = "full fuse"
    TACK_FUSE = "tack fuse"
    SLUMP = "slump"
    ENAMEL = "enamel"
    RE_ANNEAL = "re-anneal"
    TEST = "test"


STACKS = frozenset({Kind.FULL_FUSE, Kind.TACK_FUSE})
PROCESSES = {
    Kind.FULL_FUSE: FULL_FUSE,
    Kind.TACK_FUSE: TACK_FUSE,
    Kind.SLUMP: SLUMP,
    Kind.ENAMEL: ENAMEL,
    Kind.TEST: FULL_FUSE,
}


class Floor(StrEnum):
    """What a proposed anneal is never shorter or faster than."""

    TABLE_ROW = "table row"


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """What a kiln's controller can be told, as in `schedule.fit_to_controller`.

    Attributes
    ----------
    unit : TemperatureUnit
        Scale of its programmes.
    segments_available : int
        How many segments it takes.
    slowest_c_per_h, fastest_c_per_h : float
        Rates it takes [°C/h].
    rate_step : float
        Step of its rates in its own scale [°/h].
    """

    unit: TemperatureUnit = TemperatureUnit.C
    segments_available: int = 16
    slowest_c_per_h: float = 0.1
    fastest_c_per_h: float = 1000.0
    rate_step: float = 0.1

    def __post_init__(self) -> None:
        is_ordered = 0 < self.slowest_c_per_h <= self.fastest_c_per_h
        if not (is_ordered and self.rate_step > 0):
            raise PhysicsProblem(Cause.CONTROLLER_RATES)

    @property
    def step_c_per_h(self) -> float:
        """The step of its rates [°C/h]."""
        if self.unit is TemperatureUnit.F:
            return fahrenheit_difference_to_celsius(self.rate_step)
        return self.rate_step


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignRequest:
    """What a schedule is designed for.

    Attributes
    ----------
    glass : Glass
        Its data; without a soak in it, `soak_c` must be given.
    thickness_m : float
        Of the slab, the stack or the thickest sheet [m], up to 0.15.
    kind : Kind
        A full fuse and a tack fuse start from loose sheets; a slump, a re-anneal and a
        test from one slab; enamel from single sheets of at most 6.5 mm.
    boundary : Boundary
        What the faces see, most likely. The band also holds the firing in which faces
        with a film follow the kiln exactly.
    bending : Bending
        Free to bend, or held flat.
    limits : Limits
        What the top of each band must not pass.
    uncertainty : Uncertainty
        What the band is over.
    soak_c : float or None
        Anneal soak that must be kept [°C]; None lets the design start from the glass's
        own and go higher where that takes less time.
    process : ProcessHold or None
        Hottest part; None is the kind's common practice.
    sheet_m : float
        Thickness of one sheet of a loose stack [m].
    start_c, opening_c : float
        Kiln at the start, and where it is opened [°C].
    controller : Controller
        What the schedule must fit.
    kiln : KilnModel or None
        The kiln; None takes 200 °C/h for "as fast as the kiln can".
    floor : Floor or None
        What the anneal is never faster than; None shows what the limits alone allow.
    heating_limit_pa : float or None
        Tension allowed on the way up [Pa], if less than the temporary limit: for a
        slab that is in tension already.
    kiln_offset_k : float
        How much hotter the kiln is than it shows [K], see `offset`. Process, soak
        and stages are what the glass shall see; the schedule is what must be typed.
    across : Across or None
        How uneven the kiln is over the slab; None is an even kiln.
    """

    glass: Glass
    thickness_m: float
    kind: Kind = Kind.FULL_FUSE
    boundary: Boundary = TOP_ONLY_FILM
    bending: Bending = Bending.FREE
    limits: Limits = field(default_factory=Limits)
    uncertainty: Uncertainty = field(default_factory=Uncertainty)
    soak_c: float | None = None
    process: ProcessHold | None = None
    sheet_m: float = SHEET_M
    start_c: float = ROOM_C
    opening_c: float = OPENING_C
    controller: Controller = field(default_factory=Controller)
    kiln: KilnModel | None = None
    floor: Floor | None = Floor.TABLE_ROW
    heating_limit_pa: float | None = None
    kiln_offset_k: float = 0.0
    across: Across | None = None

    def __post_init__(self) -> None:
        table_rule(self)
        check_offset(self.kiln_offset_k)
        soak_c, process_c = first_soak_c(self), process_of(self).temperature_c
        if not self.start_c < self.glass.annealing_point_c:
            raise PhysicsProblem(Cause.WARM_START, start=celsius(self.start_c))
        if not self.opening_c < soak_c < process_c:
            raise PhysicsProblem(
                Cause.DESIGN_OUT_OF_ORDER,
                opening=celsius(self.opening_c),
                soak=celsius(soak_c),
                process=celsius(process_c),
            )
        if process_c < relaxed_c(self):
            raise PhysicsProblem(
                Cause.PROCESS_TOO_COLD,
                process=celsius(process_c),
                least=celsius(round(relaxed_c(self), 0)),
            )


def first_soak_c(request: DesignRequest) -> float:
    """Return the anneal soak that the design starts from [°C].

    Parameters
    ----------
    request : DesignRequest
        What is wanted.

    References
    ----------
    The glass's own data, or what was asked for.
    """
    return soak_of(request.glass) if request.soak_c is None else request.soak_c


def relaxed_c(request: DesignRequest) -> float:
    """Return where even the stiffest glass of the band loses its stress [°C].

    Parameters
    ----------
    request : DesignRequest
        What is wanted.

    References
    ----------
    Assumed: the highest annealing point of the band, where stress halves in a minute.
    """
    return request.glass.annealing_point_c + request.uncertainty.annealing_point_up_k


def process_of(request: DesignRequest) -> ProcessHold:
    """Return the hottest part of the programme before the glass changes it.

    Parameters
    ----------
    request : DesignRequest
        What is wanted. A re-anneal goes just far enough for old stress to go.

    References
    ----------
    `programmes`: common practice, no source, for 90-expansion glass; any other where it
    is as soft, `viscosity`. Re-anneal: `relaxed_c`.
    """
    if request.process is not None:
        return request.process
    if request.kind is Kind.RE_ANNEAL:
        hottest_c = relaxed_c(request) + request.uncertainty.thermocouple_k + REACH_K
        return ProcessHold(
            temperature_c=max(hottest_c, first_soak_c(request) + REACH_K), hold_s=0.0
        )
    usual = PROCESSES[request.kind]
    hottest_c = as_soft_as_ninety(request.glass, usual.temperature_c)
    return replace(usual, temperature_c=hottest_c)


def table_rule(request: DesignRequest) -> AnnealRow:
    """Return the rule that the design is compared with.

    Parameters
    ----------
    request : DesignRequest
        What is wanted.

    Returns
    -------
    AnnealRow
        The table's row at or above the thickness; for enamel on single sheets, which
        the table is not for, what `programmes` calls common practice.

    Raises
    ------
    PhysicsProblem
        If the thickness is past the table, or past a single sheet for enamel.

    References
    ----------
    `annealing_table`, `programmes`.
    """
    if request.kind is not Kind.ENAMEL:
        return row_at_or_above(request.thickness_m)
    if not 0 < request.thickness_m <= SHEET_THICKNESS_LIMIT_M:
        raise PhysicsProblem(
            Cause.SHEET_TOO_THICK,
            thickness=metres(request.thickness_m),
            most=metres(SHEET_THICKNESS_LIMIT_M),
        )
    rate = ENAMEL_COOLING_RATE_C_PER_H
    return AnnealRow(
        thickness_m=SHEET_THICKNESS_LIMIT_M,
        soak_s=ENAMEL_SOAK_S,
        rates_c_per_h=CoolingRates(rate, rate, rate),
    )


def exact_faces(boundary: Boundary) -> Boundary | None:
    """Return the same faces without their films, at kiln temperature.

    Parameters
    ----------
    boundary : Boundary
        As assumed.

    Returns
    -------
    Boundary or None
        None if no face has a film.

    References
    ----------
    The limit of a film that lets heat through freely.
    """
    bottom, top = _exact(boundary.bottom), _exact(boundary.top)
    if (bottom, top) == (boundary.bottom, boundary.top):
        return None
    return Boundary(bottom=bottom, top=top)


def _exact(face: Face) -> Face:
    return face if face.is_insulated else AT_KILN_TEMPERATURE
