"""The design whose firing is judged, made once for all tests of the judge."""

import pytest

from firing.physics.designing.design import design
from firing.physics.designing.request import DesignRequest
from firing.physics.glass.families import NINETY


@pytest.fixture(scope="session")
def designed():
    return design(DesignRequest(glass=NINETY, thickness_m=0.05)).proposed


@pytest.fixture(scope="session")
def ends(designed):
    """When squeeze, fuse, soak, cooling 1, cooling 2 and the whole are over [s]."""
    return designed.curve.segment_ends_s
