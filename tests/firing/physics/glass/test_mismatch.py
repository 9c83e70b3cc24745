"""Glasses of different expansion: computed stress and refusal."""

import pytest

from firing.physics.glass.families import FLOAT, NINETY, NINETY_SIX
from firing.physics.glass.mismatch import mismatch
from firing.physics.limits import Limits
from firing.physics.schedule import PhysicsProblem


def test_one_family_has_none():
    found = mismatch(NINETY, NINETY, limits=Limits())
    assert found.largest_tension_pa == found.tension_pa == 0
    assert not found.is_refused


def test_ninety_and_ninety_six():
    # M (alpha_1 - alpha_2)(T_set - 20 °C) by hand: 89.7 GPa x 0.6e-6 x 466 K = 25.1 MPa.
    found = mismatch(NINETY, NINETY_SIX, limits=Limits())
    assert found.largest_tension_pa == pytest.approx(25.1e6, rel=0.01)
    # Half and half of equal stiffness: half of it.
    assert found.tension_pa == pytest.approx(found.largest_tension_pa / 2)
    assert found.is_refused


def test_order_does_not_matter_and_forces_balance():
    one = mismatch(NINETY_SIX, NINETY, limits=Limits(), first_share=0.3)
    other = mismatch(NINETY, NINETY_SIX, limits=Limits(), first_share=0.7)
    assert one.tension_pa == pytest.approx(other.tension_pa)
    assert one.difference_per_k == -other.difference_per_k
    assert one.tension_pa == pytest.approx(0.7 * one.largest_tension_pa)


def test_same_number_passes():
    assert not mismatch(NINETY, FLOAT, limits=Limits()).is_refused


@pytest.mark.parametrize("share", [0.0, 1.0, -1.0])
def test_shares(share):
    with pytest.raises(PhysicsProblem, match="between"):
        mismatch(NINETY, FLOAT, limits=Limits(), first_share=share)
