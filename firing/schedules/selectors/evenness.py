"""How uneven a kiln is over a slab: as the studio measured it, or room for a little.

The measurements are the firing app's own; `slab.across` says what they do to glass.
"""

from firing.models import KilnEvenness
from firing.physics.kiln.evenness import Unevenness, evenness_of
from firing.physics.slab.input import Across
from firing.schedules.selectors.physics_slabs import physics_glass
from studio.models import Glass, Kiln, Studio
from studio.tenancy import StudioQuerySet

# A kiln changes with its elements and its door: the last few count.
MEASUREMENTS_USED = 6
HOUR_S, MM = 3600.0, 1000.0


def measurements(studio: Studio) -> StudioQuerySet[KilnEvenness]:
    """Return the studio's measurements of how even its kilns are."""
    return KilnEvenness.owned.for_studio(studio).select_related("kiln", "studio")


def last_measurements(kiln: Kiln) -> list[KilnEvenness]:
    """Return the measurements that count, newest first."""
    found = measurements(kiln.studio).filter(kiln=kiln)
    return list(found.order_by("-measured_on", "-pk")[:MEASUREMENTS_USED])


def physics_values(one: KilnEvenness) -> Unevenness:
    """Return a measurement as the physics' values."""
    return Unevenness(
        middle_c=one.middle_c,
        edge_c=one.edge_c,
        reach_m=one.reach_mm / MM,
        error_k=one.error_k,
        falls_k_s=one.falls_c_per_h / HOUR_S,
    )


def across_of(
    kiln: Kiln, glass: Glass, longest_mm: float | None, *, keeps_room: bool
) -> Across | None:
    """Return how uneven a kiln is over a slab; None where its size is not known.

    What was measured counts. Where nothing was, a design keeps room for a little, and a
    verdict only tells what it would do.

    Raises
    ------
    PhysicsProblem
        When the glass is outside the model, or the slab so wide that no kiln is that
        uneven.
    """
    if longest_mm is None:
        return None
    radius_m = longest_mm / 2 / MM
    found = evenness_of(
        [physics_values(one) for one in last_measurements(kiln)],
        anneals_c=physics_glass(glass).annealing_point_c,
    )
    if found is None:
        return Across(radius_m=radius_m, is_counted=keeps_room)
    return found.over(radius_m)
