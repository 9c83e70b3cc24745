"""Viscosity between and beyond the two points of a data sheet.

The values compared with are of the makers' and standards' tables, from memory.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.designing.request import DesignRequest, Kind, process_of
from firing.physics.glass.families import (
    BOROSILICATE,
    FLOAT,
    FLOAT_TEMPERING,
    NINETY,
    NINETY_SIX,
    family,
)
from firing.physics.glass.properties import glass_from_data_sheet
from firing.physics.glass.viscosity import (
    as_soft_as_ninety,
    joins_c,
    log10_viscosity,
    temperature_at,
)

WITH_POINTS = (FLOAT, NINETY, NINETY_SIX, BOROSILICATE)


@pytest.mark.parametrize("glass", WITH_POINTS, ids=lambda glass: glass.name)
def test_it_is_what_the_points_are_defined_by(glass):
    """ISO 7884-1 and ASTM C338: 10^12 and 10^6.6 Pa s."""
    assert log10_viscosity(glass, glass.annealing_point_c) == pytest.approx(12)
    assert log10_viscosity(glass, glass.softening_point_c) == pytest.approx(6.6)


@pytest.mark.parametrize("glass", WITH_POINTS, ids=lambda glass: glass.name)
def test_the_strain_point_which_it_was_not_given_comes_out(glass):
    """10^13.5 Pa s, ASTM C336; no point is known to better than a few kelvin."""
    assert temperature_at(glass, 13.5) == pytest.approx(glass.strain_point_c, abs=5)


def test_the_working_point_of_borosilicate_comes_out():
    """10^3 Pa s at 1252 °C by its makers' data sheets, far beyond both points."""
    assert temperature_at(BOROSILICATE, 3.0) == pytest.approx(1252, abs=15)


@given(st.sampled_from(WITH_POINTS), st.floats(0, 14))
def test_the_inverse_leads_back(glass, log_pa_s):
    found_c = temperature_at(glass, log_pa_s)
    assert log10_viscosity(glass, found_c) == pytest.approx(log_pa_s, abs=1e-3)


@given(st.sampled_from(WITH_POINTS), st.floats(300, 1200), st.floats(1, 100))
def test_hotter_is_softer(glass, temperature_c, by_k):
    colder = log10_viscosity(glass, temperature_c)
    assert log10_viscosity(glass, temperature_c + by_k) < colder


def test_each_glass_is_fired_where_it_is_as_soft():
    """A borosilicate at 816 °C is below its softening point: nothing fuses."""
    assert [as_soft_as_ninety(NINETY, c) for c in (670.0, 816.0)] == [670, 816]
    assert [as_soft_as_ninety(NINETY_SIX, c) for c in (670.0, 816.0)] == [670, 816]
    assert as_soft_as_ninety(FLOAT, 816) == pytest.approx(883, abs=2)
    assert as_soft_as_ninety(BOROSILICATE, 816) == pytest.approx(1071, abs=2)
    assert joins_c(BOROSILICATE) == pytest.approx(813, abs=2)


@pytest.mark.parametrize("glass", WITH_POINTS, ids=lambda glass: glass.name)
def test_a_designed_fuse_is_above_the_softening_point(glass):
    request = DesignRequest(glass=glass, thickness_m=0.02, kind=Kind.FULL_FUSE)
    hottest_c = process_of(request).temperature_c
    assert log10_viscosity(glass, hottest_c) == pytest.approx(4.1, abs=0.2)
    assert joins_c(glass) < hottest_c


def test_without_a_softening_point_it_is_as_fragile_as_the_known_glass():
    bare = replace(FLOAT, softening_point_c=None)
    assert log10_viscosity(bare, 546) == pytest.approx(12)
    assert 700 < joins_c(bare) < 740
    assert joins_c(FLOAT_TEMPERING) > FLOAT_TEMPERING.annealing_point_c


def test_a_data_sheet_without_one_moves_the_familys_along():
    own = glass_from_data_sheet(
        family("float"), name="Own", annealing_point_c=556, soak_c=550
    )
    assert own.softening_point_c == pytest.approx(736)
