"""Readings in another unit are refused; a kiln that is really wrong is not."""

import numpy as np
import pytest

from firing.physics.judging.verdict import Verdict, judge
from firing.physics.schedule import PhysicsProblem
from tests.firing.physics.readings import judge_request, sampled, slow_kiln


def judged(designed, time_s, kiln_c):
    return judge(judge_request(designed, time_s, kiln_c, kiln=slow_kiln()))


@pytest.mark.parametrize("share", [0.05, 0.1, 0.3, 1.0])
def test_fahrenheit_taken_for_celsius_is_refused(designed, share):
    time_s, kiln_c = sampled(designed.curve, 300.0)
    upto = time_s <= share * time_s[-1]
    with pytest.raises(PhysicsProblem, match="Check the unit"):
        judged(designed, time_s[upto], kiln_c[upto] * 9 / 5 + 32)


def test_celsius_taken_for_fahrenheit_is_refused(designed):
    time_s, kiln_c = sampled(designed.curve, 300.0)
    with pytest.raises(PhysicsProblem, match="Check the unit"):
        judged(designed, time_s, (kiln_c - 32) * 5 / 9)


@pytest.mark.parametrize("hottest_c", [436.0, 600.0, 950.0])
def test_a_kiln_that_was_too_cold_or_too_hot_is_judged(designed, hottest_c):
    """436 °C is what 816 °F is in degrees Celsius."""
    time_s, kiln_c = sampled(designed.curve, 300.0)
    kiln_c = 20 + (kiln_c - 20) * (hottest_c - 20) / (kiln_c.max() - 20)
    found = judged(designed, time_s, kiln_c)
    assert found.hottest_c == pytest.approx(hottest_c, abs=2)


def test_a_broken_thermocouple_is_no_wrong_unit(designed):
    time_s, kiln_c = sampled(designed.curve, 300.0)
    is_wrong = (time_s > 0.5 * time_s[-1]) & (time_s < 0.6 * time_s[-1])
    found = judged(designed, time_s, np.where(is_wrong, 1372.0, kiln_c))
    assert found.verdict in (Verdict.WITHIN, Verdict.UNSURE)
