"""Whether the glasses of a stack go together, and which layers are named where not."""

import pytest

from firing.schedules.selectors.mixed import mismatch_problems
from studio.models import GlassFamily
from studio.selectors.glass_checks import NumberedGlass
from tests import make


@pytest.fixture
def glasses(strangers):
    """Return glasses of two families: n(ormal), its twin t, and o(ther)."""
    return {
        "n": make.glass(studio=strangers.studio, name="Usual"),
        "t": make.glass(studio=strangers.studio, name="Twin"),
        "o": make.glass(
            studio=strangers.studio, name="Odd", family=GlassFamily.EXPANSION_96
        ),
        "s": make.glass(studio=strangers.studio, name="Stiff", expansion_1e7_per_k=86),
    }


@pytest.fixture
def problems(strangers, glasses):
    def told(stack):
        layers = [
            NumberedGlass(number=number, glass=glasses[letter])
            for number, letter in enumerate(stack, start=1)
        ]
        return mismatch_problems(layers, strangers.viewer())

    return told


@pytest.mark.parametrize("stack", ["", "n", "nnnn", "ntnt"])
def test_one_glass_or_one_family_goes_together(problems, stack):
    assert problems(stack) == []


@pytest.mark.parametrize(
    ("stack", "which"),
    [
        ("nno", "Layer 3 is of Odd (96-expansion fusing glass), layers 1, 2 of Usual"),
        (
            "ooon",
            "Layer 4 is of Usual (90-expansion fusing glass), layers 1 to 3 of Odd",
        ),
        (
            "nonoonnn",
            "Layers 2, 4, 5 are of Odd (96-expansion fusing glass), layers 1, 3, 6 to 8",
        ),
    ],
)
def test_the_layers_that_differ_from_most_are_named(problems, stack, which):
    (told,) = problems(stack)
    assert told.startswith(f"These must not be fused together: {which}")
    assert told.endswith("Give every layer glass of one family.")


def test_each_glass_that_differs_is_told_of_itself(problems):
    assert len(problems("nnnos")) == 2
    assert problems("nnnts")[0].startswith("These must not be fused together: Layer 5")


def test_the_limit_is_named_beside_what_would_stay(problems):
    (told,) = problems("nno")
    assert "shrink by" in told
    assert "MPa is the limit of what may stay" in told
