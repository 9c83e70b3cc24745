"""Studio's glass and kilns as the stress model knows them, and designs kept for a while.

The one place where a design is asked for and where its cache key is made; what a design
means in words is in `stress_words`.
"""

from dataclasses import replace
from hashlib import sha256

from django.core.cache import cache

from firing.models import FiringKind
from firing.physics import programmes
from firing.physics.design import Design, design
from firing.physics.design_request import Controller, DesignRequest, Kind
from firing.physics.glass import Glass as PhysicsGlass
from firing.physics.glass import glass_from_data_sheet
from firing.physics.glass_families import family
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.physics.programmes import ProcessHold
from firing.physics.surroundings import BOTH_FACES_FILM, TOP_ONLY_FILM, Boundary
from firing.planning import practice
from firing.selectors.programmes import kiln_model
from studio.models import Glass, Kiln
from studio.units import TemperatureUnit

# A new number whenever the engine gives other results for the same request or readings:
# designs, what-ifs and verdicts are kept under it.
ENGINE = 1
KEPT_S = 7 * 24 * 3600

DAMMED_WORDS = (
    "Dammed on a shelf: heat passes through the top only, by radiation and still air."
)
OPEN_WORDS = (
    "No dams: heat passes through top and bottom, by radiation and still air. A slab "
    "flat on a thick shelf is closer to one with dams: choose dams then, which is the "
    "slower case."
)


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
    )


def controller_of(kiln: Kiln) -> Controller:
    """Return what a kiln's controller can be told."""
    return Controller(
        unit=TemperatureUnit(kiln.controller_unit),
        segments_available=kiln.controller_segments,
        slowest_c_per_h=kiln.slowest_rate_c_per_h,
        fastest_c_per_h=kiln.fastest_rate_c_per_h,
        rate_step=kiln.rate_step,
    )


def boundary_of(*, is_dammed: bool) -> Boundary:
    """Return what the faces see: with dams and a shelf, only the top."""
    return TOP_ONLY_FILM if is_dammed else BOTH_FACES_FILM


def faces_words(*, is_dammed: bool) -> str:
    """Say which faces heat is taken to pass through."""
    return DAMMED_WORDS if is_dammed else OPEN_WORDS


def process_of(kind: str, glass: Glass) -> ProcessHold | None:
    """Return the hottest part by the glass's own data; none is common practice."""
    if kind in (FiringKind.FULL_FUSE, FiringKind.TEST):
        return ProcessHold(
            temperature_c=glass.full_fuse_c, hold_s=programmes.FULL_FUSE_HOLD_S
        )
    if kind == FiringKind.ENAMEL:
        return ProcessHold(
            temperature_c=glass.enamel_c, hold_s=programmes.ENAMEL_HOLD_S
        )
    return None


def request_of(
    *,
    kind: str,
    thickness_mm: float,
    glass: Glass,
    kiln: Kiln,
    is_dammed: bool,
    limits: Limits = DEFAULT_LIMITS,
) -> DesignRequest:
    """Return what the engine is asked for.

    Raises
    ------
    PhysicsProblem
        When the glass, the height or the temperatures are outside the model.
    """
    return DesignRequest(
        glass=physics_glass(glass),
        thickness_m=thickness_mm / 1000,
        kind=Kind(kind),
        boundary=boundary_of(is_dammed=is_dammed),
        limits=limits,
        process=process_of(kind, glass),
        sheet_m=glass.sheet_thickness_mm / 1000,
        start_c=practice.ROOM_C,
        opening_c=kiln.opening_temperature_c,
        controller=controller_of(kiln),
        kiln=kiln_model(kiln),
    )


def cache_key(request: DesignRequest) -> str:
    """Return the key of a design: every number of the request is in it."""
    return f"design:{ENGINE}:{sha256(repr(request).encode()).hexdigest()}"


def designed(request: DesignRequest) -> Design:
    """Design a schedule, or return the one designed for the same request before.

    Raises
    ------
    PhysicsProblem
        When no schedule keeps the limits, or the controller cannot be told one.
    """
    key = cache_key(request)
    kept: Design | None = cache.get(key)
    if kept is None:
        made = design(request)
        # Where a glass's numbers come from is a read-only view, which no cache takes.
        bare = replace(made.request.glass, provenance={})
        kept = replace(made, request=replace(made.request, glass=bare))
        cache.set(key, kept, KEPT_S)
    return replace(kept, request=replace(kept.request, glass=request.glass))
