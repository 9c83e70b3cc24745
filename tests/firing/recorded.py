"""Builders of finished firings, with readings from a kiln model, for tests."""

import datetime as dt

import numpy as np

from firing.firings.services import running
from firing.models import Firing
from firing.physics.kiln.model import KilnModel, follow
from firing.readings.services import readings
from firing.schedules.selectors.schedules import programme_of
from tests.firing import build
from tests.make import NOW

# What the kiln is in truth; its fields say something else until it is measured.
DAY = dt.timedelta(days=1)
TRUE_COOLING_S, TRUE_HOLDING = 8 * 3600.0, 0.75


def true_kiln(kiln, **changes) -> KilnModel:
    values = {
        "power_w": kiln.power_w,
        "max_temperature_c": kiln.max_temperature_c,
        "ambient_c": 20.0,
        "holding_fraction": TRUE_HOLDING,
        "cooling_time_constant_s": TRUE_COOLING_S,
    }
    return KilnModel(**(values | changes))


def log_of(firing: Firing, model: KilnModel) -> bytes:
    """Return what a logger with whole degrees C would keep, every five minutes."""
    run = follow(programme_of(firing.schedule), model, until_c=50)
    times = np.arange(0, run.time_s[-1], 300)
    shown = np.rint(np.interp(times, run.time_s, run.temperature_c))
    rows = [f"{s:.0f},{c:.0f}" for s, c in zip(times, shown, strict=True)]
    return "\n".join(["Seconds,Temp (°C)", *rows]).encode()


def finished(
    *,
    kiln,
    glass,
    starts_at: dt.datetime = NOW,
    model: KilnModel | None = None,
    data: bytes | None = None,
    is_unloaded: bool = True,
) -> Firing:
    """Make up an enamel firing, run it, take its readings in, and unload it."""
    firing = build.enamel(kiln=kiln, glass=glass, starts_at=starts_at)
    firing = running.start_firing(firing=firing, by=None, at=starts_at)
    readings.import_readings(
        firing=firing,
        data=data or log_of(firing, model or true_kiln(kiln)),
        file_name="log.csv",
        unit=None,
        by=None,
        at=starts_at + dt.timedelta(days=3),
    )
    if is_unloaded:
        running.finish_firing(
            firing=firing,
            outcomes={item.pk: ("fine", "") for item in firing.items.all()},
            by=None,
            at=starts_at + dt.timedelta(days=3),
            hand=build.READ_COLD,
        )
    return firing
