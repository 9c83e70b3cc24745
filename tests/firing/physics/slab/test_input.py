"""What cannot be computed is refused before it is, with what to change."""

import math

import pytest

from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import Accuracy, LooseStack
from tests.firing.physics.slabs import firing


def bad(match, **changes):
    time_s = changes.pop("time_s", [0, 10])
    kiln_c = changes.pop("kiln_c", [20, 30])
    with pytest.raises(PhysicsProblem, match=match):
        firing(time_s, kiln_c, **changes)


def test_what_is_refused_and_what_to_change():
    bad("not all numbers: point 2", kiln_c=[20, math.nan])
    bad("not all numbers: point 1", time_s=[-math.inf, 1])
    bad("goes backwards at point 2", time_s=[10, 0])
    bad("as many temperatures as times", kiln_c=[20])
    bad("at least one", time_s=[], kiln_c=[])
    bad("Check the unit", kiln_c=[20, 1500])
    bad("-300 °C", kiln_c=[20, -300])
    bad("0.5 mm to 500 mm", thickness_m=0.0001)
    bad("0.5 mm to 500 mm", thickness_m=math.nan)
    bad("0.5 mm to 500 mm", thickness_m=6)
    bad("start is 5000", start_c=5000.0)
    bad("fictive temperature", fictive_start_c=math.nan)
    bad("opening temperature", opening_c=-300.0)
    bad("end after it starts", window_s=(5, 2))
    bad("outside", window_s=(50, 60))
    bad("longer than the model", time_s=[0, 1e12])
    bad("does not fit a stack", stack=LooseStack(sheet_m=0.1, joins_c=670.0))
    bad("do not fuse at", stack=LooseStack(sheet_m=0.003, joins_c=400))


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"nodes": 20}, "number of nodes"),
        ({"nodes": 3}, "number of nodes"),
        ({"step_factor": 0}, "step factor"),
        ({"most_steps": 0}, "above zero"),
    ],
)
def test_an_accuracy_that_cannot_be_is_refused(wrong, words):
    with pytest.raises(PhysicsProblem, match=words):
        Accuracy(**wrong)
