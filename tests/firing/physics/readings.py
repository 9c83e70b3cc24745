"""Readings for the tests of judging: a kiln's curve, with noise, cuts and gaps."""

import numpy as np

from firing.physics.glass.families import NINETY
from firing.physics.judging.verdict import JudgeRequest
from firing.physics.kiln.model import KilnModel
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


def power_lost(time_s, kiln_c, at_s, lasts_s, kiln, *, share=0.0):
    """Return the kiln with a share of its power for a while, and full power after it."""
    found, now_c = kiln_c.copy(), float(np.interp(at_s, time_s, kiln_c))
    tau_s = kiln.cooling_time_constant_s
    for place in np.flatnonzero(time_s > at_s):
        step_s = time_s[place] - max(time_s[place - 1], at_s)
        is_off = time_s[place] <= at_s + lasts_s
        asked_c = kiln.ambient_c + share * (kiln_c[place] - kiln.ambient_c)
        limit_c = asked_c if is_off else kiln.full_power_holds_c
        now_c = limit_c + (now_c - limit_c) * np.exp(-step_s / tau_s)
        now_c = min(now_c, kiln_c[place])
        found[place] = now_c
    return found


def slow_kiln(*, tau_h=8.0):
    """Return a kiln of brick that cools by itself with this time constant."""
    return KilnModel(
        power_w=8000.0,
        max_temperature_c=950.0,
        ambient_c=20.0,
        holding_fraction=0.4,
        cooling_time_constant_s=tau_h * 3600.0,
    )


def judge_request(designed, time_s, kiln_c, **changes):
    """Return readings to be judged against the design that they follow."""
    values = {
        "time_s": time_s,
        "temperature_c": kiln_c,
        "glass": NINETY,
        "thickness_m": 0.05,
        "planned": designed.schedule,
        "stack": LooseStack(sheet_m=0.003, joins_c=670.0),
    }
    return JudgeRequest(**(values | changes))
