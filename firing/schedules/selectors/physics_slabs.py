"""A studio's glass and what lies in its kiln, as the physics' values."""

from dataclasses import replace

from firing.physics.glass.families import family
from firing.physics.glass.properties import Glass as PhysicsGlass
from firing.physics.glass.properties import glass_from_data_sheet
from firing.physics.kiln.opening import Slab
from firing.physics.limits import TEMPORARY_PA
from firing.physics.slab.surroundings import BOTH_FACES_FILM, TOP_ONLY_FILM, Boundary
from studio.models import Glass

# Data sheets give expansion in units of 1e-7 per kelvin.
EXPANSION_UNIT = 1e-7


def physics_glass(glass: Glass) -> PhysicsGlass:
    """Return a studio's glass: its family's data with its own sheet's temperatures.

    Raises
    ------
    GlassProblem
        When the sheet's numbers are implausible or contradict each other.
    """
    return glass_from_data_sheet(
        family(glass.family),
        name=glass.name,
        annealing_point_c=glass.annealing_point_c,
        soak_c=glass.anneal_soak_c,
        strain_point_c=glass.strain_point_c,
        density_kg_m3=glass.density_kg_m3,
        expansion_glass_per_k=None
        if glass.expansion_1e7_per_k is None
        else glass.expansion_1e7_per_k * EXPANSION_UNIT,
    )


def annealing_point_of(glass: Glass) -> float:
    """Return a studio's own annealing point of a glass, else its family's [°C]."""
    own_c = glass.annealing_point_c
    return family(glass.family).annealing_point_c if own_c is None else own_c


def boundary_of(*, is_dammed: bool) -> Boundary:
    """Return what the faces see: with dams and a shelf, only the top."""
    return TOP_ONLY_FILM if is_dammed else BOTH_FACES_FILM


def slab_of(
    glass: Glass,
    thickness_mm: float,
    *,
    is_dammed: bool = True,
    temporary_pa: float = TEMPORARY_PA,
) -> Slab:
    """Return what is taken out of the kiln; dammed is the slower case.

    Raises
    ------
    GlassProblem
        As `physics_glass`.
    """
    return Slab(
        # The sources of its numbers are no part of what is computed or kept.
        glass=replace(physics_glass(glass), provenance={}),
        thickness_m=thickness_mm / 1000,
        boundary=boundary_of(is_dammed=is_dammed),
        temporary_pa=temporary_pa,
    )
