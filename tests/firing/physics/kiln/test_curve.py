"""The kiln's course under a programme, known kiln or not."""

import numpy as np
import pytest

from firing.physics.kiln.curve import UNKNOWN_KILN_C_PER_H, kiln_curve
from firing.physics.kiln.model import KilnModel, follow
from firing.physics.schedule import Programme, Segment

SCHEDULE = Programme(
    start_c=20.0,
    segments=(
        Segment(label="up", rate_c_per_h=100.0, target_c=800.0, hold_s=900.0),
        Segment(label="anneal soak", rate_c_per_h=None, target_c=482.0, hold_s=7200.0),
        Segment(label="final cooling", rate_c_per_h=20.0, target_c=60.0),
    ),
)
KILN = KilnModel(
    power_w=9000,
    max_temperature_c=930,
    ambient_c=20,
    holding_fraction=0.5,
    cooling_time_constant_s=6 * 3600,
)


def test_unknown_kiln():
    curve = kiln_curve(SCHEDULE, None, until_c=60.0)
    up_s = 780 / 100 * 3600 + 900
    soak_s = up_s + 318 / UNKNOWN_KILN_C_PER_H * 3600 + 7200
    assert curve.segment_ends_s == pytest.approx(
        (up_s, soak_s, soak_s + 422 / 20 * 3600)
    )
    assert curve.lasts_s == pytest.approx(curve.segment_ends_s[-1])


def test_known_kiln_follows_its_model():
    run = follow(SCHEDULE, KILN, until_c=60.0, step_s=60)
    curve = kiln_curve(SCHEDULE, KILN, until_c=60.0)
    assert curve.lasts_s == pytest.approx(run.ready_s, rel=1e-3)
    assert curve.time_s.size < 150 < run.time_s.size
    off = np.interp(run.time_s, curve.time_s, curve.temperature_c) - run.temperature_c
    assert np.abs(off).max() < 1.0
    assert np.all(np.isin(np.array(curve.segment_ends_s), curve.time_s))
