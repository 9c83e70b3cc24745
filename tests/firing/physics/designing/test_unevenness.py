"""Designs for an uneven kiln keep room for it, or say how wide a slab may be."""

from dataclasses import replace

import pytest

from firing.physics.designing.design import design
from firing.physics.designing.request import DesignRequest, Kind
from firing.physics.designing.unevenness import left_for_the_plate
from firing.physics.glass.families import NINETY
from firing.physics.limits import Limits
from firing.physics.slab.input import Across
from tests.firing.physics.readings import slow_kiln

RESIDUAL_PA = Limits().residual_pa


def request_of(**across):
    return DesignRequest(
        glass=NINETY,
        thickness_m=0.04,
        kind=Kind.FULL_FUSE,
        kiln=slow_kiln(),
        across=Across(radius_m=0.2, **across) if across else None,
    )


def test_a_design_keeps_room_for_an_uneven_kiln_by_cooling_more_slowly():
    even = design(request_of())
    uneven = design(request_of(edge_k=(-1.0, 1.0)))
    band = uneven.proposed.band
    assert uneven.proposed.is_within
    assert band.residual_tension_pa.high <= RESIDUAL_PA
    assert band.residual_tension_pa.high == pytest.approx(
        band.plate.residual_tension_pa.high + band.across.residual_pa.high
    )
    assert uneven.proposed.kiln_s > even.proposed.kiln_s
    assert uneven.widest_m is None


def test_a_kiln_that_no_schedule_mends_says_how_wide_a_slab_may_be():
    asked = request_of(edge_k=(2.0, 4.0))
    made = design(asked)
    assert not made.proposed.is_within
    # No days are spent on it in vain.
    assert made.proposed.kiln_s < 1.1 * design(request_of()).proposed.kiln_s
    share = made.widest_m / 2 / asked.across.radius_m
    assert 0.2 < share < 1
    narrower = replace(
        asked,
        across=Across(
            radius_m=made.widest_m / 2, edge_k=(2.0 * share**2, 4.0 * share**2)
        ),
    )
    assert design(narrower).proposed.is_within


def test_an_uneven_kiln_that_is_not_counted_changes_no_design():
    told = request_of(edge_k=(2.0, 4.0), is_counted=False)
    made = design(told)
    assert made.proposed.schedule == design(request_of()).proposed.schedule
    assert made.proposed.band.across.residual_pa.high > RESIDUAL_PA


def test_nothing_is_taken_of_the_limits_by_an_even_kiln():
    assert left_for_the_plate(Limits(), None) == Limits()
