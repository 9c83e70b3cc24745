"""Every refusal gets what its sentence names, and survives being stored."""

import ast
import json
from pathlib import Path
from string import Formatter

import pytest

import firing
from firing.physics.refusals import (
    Cause,
    Quantity,
    Refusal,
    Unit,
    celsius,
    kelvin,
    metres,
    number,
    pascals,
)
from firing.physics.schedule import PhysicsProblem, Segment

ROOT = Path(firing.__file__).parent
# Handed on by name: who raises them is given the cause by the caller.
BY_ARGUMENT = {Cause.TARGET, Cause.START}


def raised():
    """Yield each cause that the code names in a call, with the names given to it."""
    texts = [path.read_text() for path in ROOT.rglob("*.py")]
    for text in texts:
        if "firing.physics.refusals import" in text:
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.Call) and node.args:
                    cause = ast.unparse(node.args[0])
                    if cause.startswith("Cause."):
                        given = {word.arg for word in node.keywords}
                        yield Cause[cause.removeprefix("Cause.")], given


def named(cause):
    return {name for _, name, *_ in Formatter().parse(cause.value) if name}


def test_every_refusal_is_given_what_its_sentence_names():
    found = list(raised())
    assert {cause for cause, _ in found} | BY_ARGUMENT == set(Cause)
    for cause, given in found:
        # None is what comes in by **: the families' expansions.
        if None not in given:
            assert given == named(cause), cause


def test_the_plain_sentence_is_in_si():
    refusal = Refusal(
        Cause.NO_ANNEAL,
        {
            "thickness": metres(0.12),
            "temporary": pascals(3e6),
            "residual": pascals(5e5),
        },
    )
    assert str(refusal).startswith(
        "No anneal of 120 mm was found within 3 MPa temporary and 0.5 MPa residual"
    )


@pytest.mark.parametrize(
    "given",
    [
        {"start": celsius(480.5), "relaxed": celsius(540)},
        {"steps": (celsius(20), celsius(482))},
        {"glass": "“Kelp”, again | 500 °C {steps}", "below": kelvin(100)},
        {"value": Quantity(2500, Unit.DENSITY), "low": number(1.5)},
    ],
)
def test_a_stored_refusal_is_read_back_equal(given):
    refusal = Refusal(Cause.UNKNOWN_PAST, given)
    assert Refusal.from_json(json.loads(json.dumps(refusal.as_json()))) == refusal


def test_an_error_says_its_refusal():
    with pytest.raises(PhysicsProblem) as caught:
        Segment(label="soak {at} 500 °C", rate_c_per_h=None, target_c=5000)
    assert str(caught.value) == str(caught.value.refusal)
    assert "The target of “soak {at} 500 °C” is 5000 °C" in str(caught.value)
