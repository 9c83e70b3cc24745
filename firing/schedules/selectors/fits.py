"""Whether a piece fits a kiln: shelf, height and heat, each refusal in words."""

from firing.models import FiringKind
from firing.physics.designing import programmes
from firing.planning.packing.shelf import Flat, fits_alone
from firing.planning.problem import practice
from studio.models import Glass, Kiln, Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer


def every_kiln(studio: Studio) -> StudioQuerySet[Kiln]:
    """Return the studio's kilns, in use or not, by name."""
    return Kiln.owned.for_studio(studio).select_related("studio").order_by("name", "pk")


def kilns(studio: Studio) -> StudioQuerySet[Kiln]:
    """Return the kilns in use, by name."""
    return every_kiln(studio).filter(is_retired=False)


def peak_c(kind: str, glass: Glass) -> float:
    """Return the highest temperature of a kind of firing for this glass."""
    return {
        FiringKind.FULL_FUSE: glass.full_fuse_c,
        FiringKind.TACK_FUSE: programmes.TACK_FUSE.temperature_c,
        FiringKind.ENAMEL: glass.enamel_c,
        FiringKind.SLUMP: programmes.SLUMP.temperature_c,
        FiringKind.TEST: glass.full_fuse_c,
    }.get(FiringKind(kind), glass.anneal_soak_c)


def stack_problems(
    *,
    kiln: Kiln,
    kind: str,
    width_mm: float,
    depth_mm: float,
    height_mm: float,
    glass: Glass,
    is_dammed: bool,
    viewer: Viewer,
) -> list[str]:
    """Return why a kiln cannot take a stack or slab; an empty list when it can."""
    problems = []
    if kiln.is_retired:
        problems.append("It is no longer in use.")
    margin = practice.DAM_WIDTH_MM if is_dammed else practice.BARE_MARGIN_MM
    flat = Flat(key=0, width_mm=width_mm + 2 * margin, depth_mm=depth_mm + 2 * margin)
    if not fits_alone(flat, width_mm=kiln.shelf_width_mm, depth_mm=kiln.shelf_depth_mm):
        needs = viewer.size(flat.width_mm, flat.depth_mm)
        has = viewer.size(kiln.shelf_width_mm, kiln.shelf_depth_mm)
        what = "with its dams " if is_dammed else ""
        problems.append(f"Its shelf is {has}; the piece {what}needs {needs}.")
    high = practice.BELOW_STACK_MM + height_mm + practice.ABOVE_STACK_MM
    if high > kiln.inner_height_mm:
        problems.append(
            f"It is {viewer.length(kiln.inner_height_mm)} high inside; the stack on its "
            f"shelf, with air above it, needs {viewer.length(high)}."
        )
    hottest = peak_c(kind, glass)
    if hottest > kiln.max_temperature_c:
        problems.append(
            f"It reaches {viewer.temperature(kiln.max_temperature_c)}; this firing "
            f"needs {viewer.temperature(hottest)}."
        )
    return problems
