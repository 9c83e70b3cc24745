"""What the faces of a slab see of the kiln, and whether the slab may bend.

Only descriptions: `conduction` and `stress` say what they do to the glass.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from firing.physics.refusals import Cause, number
from firing.physics.schedule import FloatArray, PhysicsProblem

# From memory, an assumption: glass near a kiln's wall, and still air in a kiln.
GLASS_EMISSIVITY = 0.9
STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m² K⁴), CODATA 2018
STILL_AIR_W_M2K = 5.0

Temperature = TypeVar("Temperature", float, FloatArray)


class Bending(StrEnum):
    """Whether a slab may bend.

    A slab thicker than about 20 mm and narrower than about 0.5 m is free: at 50 mm the
    moment that would flatten it is tens of times that of its weight (derived). Thin
    large panels come near to being held flat by their weight.
    """

    FREE = "free"
    FLAT = "flat"


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """How one face exchanges heat with the kiln.

    Attributes
    ----------
    is_at_kiln_temperature : bool
        The face follows the kiln exactly; then the other two do not count.
    film_w_m2k : float
        Convection h [W/(m² K)], 0 to 1e5.
    emissivity : float
        eps, 0 to 1.
    """

    is_at_kiln_temperature: bool = False
    film_w_m2k: float = 0.0
    emissivity: float = 0.0

    def __post_init__(self) -> None:
        if not 0 <= self.film_w_m2k <= 1e5:
            raise PhysicsProblem(Cause.FILM, film=number(self.film_w_m2k))
        if not 0 <= self.emissivity <= 1:
            raise PhysicsProblem(Cause.EMISSIVITY, emissivity=number(self.emissivity))

    @property
    def is_insulated(self) -> bool:
        """Whether no heat passes."""
        return not (self.is_at_kiln_temperature or self.film_w_m2k or self.emissivity)

    def lets_through(self, kelvin: Temperature) -> Temperature:
        """Return h + 4 eps s T³, what the film lets through at T [W/(m² K)].

        Parameters
        ----------
        kelvin : float or ndarray
            T [K].
        """
        return self.film_w_m2k + 4 * self.emissivity * STEFAN_BOLTZMANN * kelvin**3


AT_KILN_TEMPERATURE = Face(is_at_kiln_temperature=True)
INSULATED = Face()
AIR_AND_RADIATION = Face(film_w_m2k=STILL_AIR_W_M2K, emissivity=GLASS_EMISSIVITY)


@dataclass(frozen=True, slots=True, kw_only=True)
class Boundary:
    """The two faces of a slab."""

    bottom: Face
    top: Face

    def __post_init__(self) -> None:
        if self.bottom.is_insulated and self.top.is_insulated:
            raise PhysicsProblem(Cause.NO_FACE)


BOTH_FACES = Boundary(bottom=AT_KILN_TEMPERATURE, top=AT_KILN_TEMPERATURE)
TOP_ONLY = Boundary(bottom=INSULATED, top=AT_KILN_TEMPERATURE)
BOTH_FACES_FILM = Boundary(bottom=AIR_AND_RADIATION, top=AIR_AND_RADIATION)
TOP_ONLY_FILM = Boundary(bottom=INSULATED, top=AIR_AND_RADIATION)

# A slab that was taken out stands free, or might: the worse case.
IN_THE_ROOM = BOTH_FACES_FILM

BOUNDARIES = {"both": BOTH_FACES, "top": TOP_ONLY}


def equalising_time_s(
    thickness_m: float, diffusivity_m2_s: float, boundary: Boundary
) -> float:
    """Return how long the slowest temperature difference lives in a slab [s].

    Parameters
    ----------
    thickness_m : float
        d, above 0 [m].
    diffusivity_m2_s : float
        kappa, above 0 [m²/s].
    boundary : Boundary
        With heat through both faces L = d/2, through one L = d.

    Notes
    -----
    L²/(kappa (pi/2)²); faces at kiln temperature. About 9 min for 50 mm and both faces.

    References
    ----------
    The plane wall's first term; derived.
    """
    one_sided = boundary.bottom.is_insulated or boundary.top.is_insulated
    length_m = thickness_m if one_sided else thickness_m / 2
    return length_m**2 / (diffusivity_m2_s * (math.pi / 2) ** 2)
