"""Refusals in the reader's units: quantities are converted, names never."""

import math

import pytest

from firing.physics.glass.properties import GlassProblem
from firing.physics.refusals import Cause, Refusal, celsius, kelvin, metres, per_hour
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors.refusal_words import refusal_words, stored_refusal_words
from studio.errors import Refused


@pytest.fixture
def american(cast):
    return cast.viewer()


def words(viewer, cause, **given):
    return refusal_words(PhysicsProblem(cause, **given), viewer)


def test_each_kind_of_quantity_is_converted_as_what_it_is(american, strangers):
    slow = {"thickness": metres(0.0508), "rate": per_hour(5), "slowest": per_hour(10)}
    told = words(american, Cause.ROW_TOO_SLOW, **slow)
    assert "for 2 in cools at 9 °F/h" in told
    assert "takes is 18 °F/h" in told
    told = words(strangers.viewer(), Cause.ROW_TOO_SLOW, **slow)
    assert "cools at 5 °C/h" in told
    assert "°F" not in told
    told = words(american, Cause.OFFSET, most=kelvin(60), offset=kelvin(-100))
    assert "up to 108 °F either way, not -180 °F" in told.replace("−", "-")
    told = words(
        american, Cause.PROGRAMME_OUT_OF_ORDER, steps=(celsius(20), celsius(0))
    )
    assert told.endswith("these are 68 °F, 32 °F.")


@pytest.mark.parametrize("name", ["Kelp 500 °C", "20 mm", "6 °C/h {rate}", "", "海"])
def test_a_name_stays_as_it_is(american, name):
    problem = GlassProblem(Cause.NO_SOAK, glass=name)
    assert refusal_words(problem, american).startswith(f"{name} has no anneal soak")


def test_what_is_no_number_is_told_all_the_same(american):
    given = {"thickness": metres(math.nan), "least": metres(1), "most": metres(2)}
    assert "A thickness of nan mm" in words(american, Cause.THICKNESS, **given)


def test_other_errors_and_old_stored_words_are_shown_as_they_are(american):
    assert refusal_words(Refused("No, at 500 °C."), american) == "No, at 500 °C."
    assert stored_refusal_words("Begins at 500 °C.", american) == "Begins at 500 °C."
    stored = Refusal(Cause.NEVER_HOT, {"hottest": celsius(100)}).as_json()
    assert "never above 212 °F" in stored_refusal_words(stored, american)
