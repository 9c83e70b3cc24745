"""The compiled kernels, made ready before somebody waits for them."""

import numpy as np

from firing.physics.glass.families import NINETY
from firing.physics.slab.across import simulate_across
from firing.physics.slab.input import Across, SlabFiring
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import BOTH_FACES, INSULATED


def warm_up() -> None:
    """Compile or load the kernels, so that the next firing is computed at full speed.

    Notes
    -----
    Takes seconds when nothing is cached on disk, and a fraction of one when it is.

    References
    ----------
    None: no physics.
    """
    firing = SlabFiring(
        glass=NINETY,
        thickness_m=0.006,
        boundary=BOTH_FACES,
        time_s=np.array([0.0, 60.0]),
        kiln_c=np.array([20.0, 21.0]),
    )
    simulate(firing)
    simulate_across(firing, Across(radius_m=0.1), edge_k=1.0, rim=INSULATED)
