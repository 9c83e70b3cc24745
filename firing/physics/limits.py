"""How much tension a maker allows a slab, and when a computed one is a warning.

Only the three numbers and their checks; designing and judging compare bands with them.
"""

from dataclasses import dataclass

from firing.physics.refusals import Cause, pascals
from firing.physics.schedule import PhysicsProblem

# Conservative defaults, assumptions of this project: annealed glass is designed for
# about 7 MPa of lasting tension (EN 16612, from memory), and a fused slab has bubbles,
# chipped edges and enamel that halve it or worse. 0.5 MPa of residual tension is about
# 14 nm/cm edge-on.
TEMPORARY_PA = 3e6
RESIDUAL_PA = 0.5e6
WARNING_PA = 7e6
LEAST_PA, MOST_PA = 1e4, 1e8


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The tension allowed, to the top of a band.

    Attributes
    ----------
    temporary_pa : float
        While heating or cooling [Pa], 1e4 to 1e8.
    residual_pa : float
        What stays in the cold slab [Pa], not above the temporary one.
    warning_pa : float
        From here on the slab may have cracked [Pa], not below the temporary one.
    """

    temporary_pa: float = TEMPORARY_PA
    residual_pa: float = RESIDUAL_PA
    warning_pa: float = WARNING_PA

    def __post_init__(self) -> None:
        for name, value in (
            ("temporary", self.temporary_pa),
            ("residual", self.residual_pa),
            ("warning", self.warning_pa),
        ):
            if not LEAST_PA <= value <= MOST_PA:
                raise PhysicsProblem(Cause.LIMIT, name=name, value=pascals(value))
        if not self.residual_pa <= self.temporary_pa <= self.warning_pa:
            raise PhysicsProblem(
                Cause.LIMITS_OUT_OF_ORDER,
                residual=pascals(self.residual_pa),
                temporary=pascals(self.temporary_pa),
                warning=pascals(self.warning_pa),
            )


DEFAULT_LIMITS = Limits()
