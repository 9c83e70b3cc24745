"""Readings for the tests of judging: a kiln's curve, with noise, cuts and gaps."""

import numpy as np

from firing.physics.glass.families import NINETY
from firing.physics.judging.verdict import JudgeRequest
from firing.physics.slab.input import LooseStack


def sampled(curve, every_s=120.0, *, noise_k=0.0, seed=7, until_s=None):
    """Return times and temperatures read off a curve."""
    end_s = curve.time_s[-1] if until_s is None else until_s
    time_s = np.arange(0.0, end_s + every_s / 2, every_s)
    kiln_c = np.interp(time_s, curve.time_s, curve.temperature_c)
    if noise_k:
        kiln_c = kiln_c + np.random.default_rng(seed).uniform(
            -noise_k, noise_k, time_s.size
        )
    return time_s, kiln_c


def cut_off(time_s, kiln_c, at_s, *, tau_s=6 * 3600.0, room_c=20.0):
    """Return the same readings with the power off for good from an instant."""
    from_c = float(np.interp(at_s, time_s, kiln_c))
    falling_c = room_c + (from_c - room_c) * np.exp(-(time_s - at_s) / tau_s)
    return time_s, np.where(time_s < at_s, kiln_c, np.minimum(falling_c, kiln_c + 1e3))


def without(time_s, kiln_c, start_s, end_s):
    """Return the readings less those between two instants."""
    kept = (time_s <= start_s) | (time_s >= end_s)
    return time_s[kept], kiln_c[kept]


def judge_request(designed, time_s, kiln_c, **changes):
    """Return readings to be judged against the design that they follow."""
    values = {
        "time_s": time_s,
        "temperature_c": kiln_c,
        "glass": NINETY,
        "thickness_m": 0.05,
        "planned": designed.schedule,
        "stack": LooseStack(sheet_m=0.003),
    }
    return JudgeRequest(**(values | changes))
