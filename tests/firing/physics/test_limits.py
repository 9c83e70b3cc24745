"""Limits: what is refused."""

import math

import pytest

from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem


def test_defaults():
    assert Limits() == Limits(temporary_pa=3e6, residual_pa=0.5e6, warning_pa=7e6)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"temporary_pa": 0}, "temporary"),
        ({"residual_pa": -1e6}, "residual"),
        ({"warning_pa": math.inf}, "warning"),
        ({"residual_pa": math.nan}, "residual"),
        ({"residual_pa": 4e6}, "not above the temporary"),
        ({"warning_pa": 2e6}, "not above"),
    ],
)
def test_refused(changes, words):
    with pytest.raises(PhysicsProblem, match=words):
        Limits(**changes)
