"""Designs and judgements as mappings, and schedules read back."""

import json

import pytest

from firing.physics.designing.design import design
from firing.physics.designing.request import DesignRequest
from firing.physics.formats.design_format import (
    design_as_mapping,
    schedule_as_mapping,
    schedule_from_mapping,
)
from firing.physics.glass.families import NINETY
from firing.physics.schedule import PhysicsProblem

STRESS_KEYS = (
    "residual_mid_pa",
    "residual_top_pa",
    "residual_bottom_pa",
    "residual_max_tension_pa",
    "peak_tension_heating_pa",
    "peak_tension_cooling_pa",
    "peak_tension_window_pa",
    "max_temperature_difference_window_k",
    "retardation_nm_cm",
)


@pytest.fixture(scope="module")
def found():
    return design(DesignRequest(glass=NINETY, thickness_m=0.02))


def test_bands(found):
    shown = json.loads(json.dumps(design_as_mapping(found, seconds=0.5)))
    for part in (shown, *shown["compared"]):
        for key in STRESS_KEYS:
            band = part[key]
            assert set(band) == {"low", "middle", "high"}
            assert band["low"] <= band["middle"] <= band["high"]
    assert shown["residual_max_tension_pa"]["high"] <= shown["limits"]["residual_pa"]
    assert shown["kiln_temperature"][-1][0] == pytest.approx(shown["kiln_s"])
    assert len(shown["cases"]) >= 8


def test_schedule_comes_back(found):
    schedule = found.proposed.schedule
    assert schedule_from_mapping(schedule_as_mapping(schedule)) == schedule
    whole = json.loads(json.dumps(design_as_mapping(found, seconds=0)))
    assert schedule_from_mapping(whole) == schedule


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ([], "schedule: must be an object"),
        ({"start_c": 20}, "schedule.segments"),
        ({"start_c": 20, "segments": []}, "schedule.segments"),
        ({"start_c": "20", "segments": [{}]}, "schedule.start_c"),
        ({"start_c": 20, "segments": [5]}, r"segments\[0\]: must be an object"),
        ({"start_c": 20, "segments": [{"label": "a"}]}, r"segments\[0\].target_c"),
        (
            {"start_c": 20, "segments": [{"target_c": 500, "rate_c_per_h": -4}]},
            r"segments\[0\]",
        ),
        ({"start_c": 20, "segments": [{"target_c": 10**400}]}, "finite"),
    ],
)
def test_refused(given, words):
    with pytest.raises(PhysicsProblem, match=words):
        schedule_from_mapping(given)
