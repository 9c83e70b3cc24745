"""Designs stay within their limits until the slab is in the room: by the second solver."""

from dataclasses import replace

import numpy as np
import pytest

from firing.physics.designing.design import design
from firing.physics.designing.request import DesignRequest, exact_faces
from firing.physics.glass.families import FLOAT, NINETY
from firing.physics.glass.properties import with_annealing_point, with_conductivity
from firing.physics.kiln.opening import taken_out
from firing.physics.slab.input import SlabFiring
from firing.physics.slab.surroundings import BOTH_FACES_FILM, TOP_ONLY_FILM
from tests.firing.physics.readings import slow_kiln
from tests.firing.physics.stiff_solver import StiffSlab

# About half a minute of a core each.
DESIGNS = (
    (25, NINETY, BOTH_FACES_FILM),
    (40, FLOAT, BOTH_FACES_FILM),
    (60, NINETY, TOP_ONLY_FILM),
    (100, NINETY, TOP_ONLY_FILM),
)


def fused_and_taken_out(request, curve):
    """Return the firing from the end of its fuse, hot and even, until it is in the room."""
    hot_s = curve.segment_ends_s[1]
    later = curve.time_s > hot_s
    hot_c = float(np.interp(hot_s, curve.time_s, curve.temperature_c))
    return taken_out(
        SlabFiring(
            glass=request.glass,
            thickness_m=request.thickness_m,
            boundary=request.boundary,
            time_s=np.append(hot_s, curve.time_s[later]),
            kiln_c=np.append(hot_c, curve.temperature_c[later]),
        ),
        request.kiln.ambient_c,
    )


def ends_of(firing, by_k):
    """Yield the firing with what is uncertain at its ends, the kiln by ± `by_k`."""
    annealing_c = firing.glass.annealing_point_c
    for moved_k in (-10.0, 10.0):
        glass = with_conductivity(
            with_annealing_point(firing.glass, annealing_c + moved_k), 0.85
        )
        kiln_c = firing.kiln_c + by_k * np.clip((firing.kiln_c - 20) / 380, 0, 1)
        for boundary in (firing.boundary, exact_faces(firing.boundary)):
            yield replace(firing, glass=glass, kiln_c=kiln_c, boundary=boundary)


@pytest.mark.slow
@pytest.mark.long
@pytest.mark.parametrize(("thickness_mm", "glass", "boundary"), DESIGNS)
def test_a_design_is_within_its_limits_until_it_is_in_the_room(
    thickness_mm, glass, boundary
):
    request = DesignRequest(
        glass=glass,
        thickness_m=thickness_mm / 1000,
        boundary=boundary,
        kiln=slow_kiln(),
    )
    firing = fused_and_taken_out(request, design(request).proposed.curve)
    whole = (float(firing.time_s[0]), float(firing.time_s[-1]))
    for by_k in (-5.0, 5.0):
        for one in ends_of(firing, by_k):
            theirs = StiffSlab(replace(one, window_s=whole), nodes=13).solve(rtol=1e-5)
            stays = max(
                theirs.residual_mid_pa,
                theirs.residual_top_pa,
                theirs.residual_bottom_pa,
            )
            assert stays <= 1.005 * request.limits.residual_pa
            assert theirs.peak_window_pa <= 1.005 * request.limits.temporary_pa
