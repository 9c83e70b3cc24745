"""A fuse that runs, and what its logger sends: the kiln's own model with faults in it."""

import datetime as dt

import numpy as np

from firing.controller_log.pushed import PushedReading
from firing.firings.services.running import start_firing
from firing.models import Firing
from firing.physics.kiln.model import follow
from firing.readings.services.loggers import make_logger, take_pushed
from firing.schedules.selectors.programmes import kiln_model
from firing.schedules.selectors.schedules import programme_of
from tests.firing import build
from tests.firing.physics.readings import power_lost

HOUR_S = 3600.0


def running_fuse(cast, *, started: dt.datetime, layers: int = 20) -> Firing:
    piece = build.stacked(studio=cast.studio, glass=cast.glass, layer_count=layers)
    firing = build.fuse(piece=piece, kiln=cast.kiln, starts_at=started)
    return start_firing(firing=firing, by=None, at=started)


def planned_log(firing: Firing, *, every_s: float = 120.0):
    """Return what a good logger would read of the firing as planned [s, °C]."""
    run = follow(programme_of(firing.schedule), kiln_model(firing.kiln), until_c=30.0)
    time_s = np.arange(0.0, run.time_s[-1], every_s)
    noise_k = np.random.default_rng(3).uniform(-0.4, 0.4, time_s.size)
    return time_s, np.interp(time_s, run.time_s, run.temperature_c) + noise_k


def anneal_s(firing: Firing, time_s, kiln_c) -> float:
    """Return when the kiln begins to cool slowly [s]."""
    soak_c = next(
        one.target_c
        for one in programme_of(firing.schedule).segments
        if "soak" in one.label
    )
    near = np.flatnonzero(np.abs(kiln_c - soak_c) < 2)
    return float(time_s[near[-1]])


def with_cut(firing: Firing, time_s, kiln_c, *, at_s: float, hours: float):
    """Return the readings with the power off for a while."""
    return power_lost(time_s, kiln_c, at_s, hours * HOUR_S, kiln_model(firing.kiln))


def pushed(firing: Firing, time_s, kiln_c) -> list[PushedReading]:
    return [
        PushedReading(at=firing.started_at + dt.timedelta(seconds=s), temperature_c=c)
        for s, c in zip(time_s.tolist(), kiln_c.tolist(), strict=True)
    ]


def send(
    firing: Firing, readings: list[PushedReading], *, at: dt.datetime, logger=None
):
    """Send readings as a logger does, in the order given."""
    logger = logger or make_logger(kiln=firing.kiln, name="laptop", by=None, at=at)
    for first in range(0, len(readings), 5000):
        part = sorted(readings[first : first + 5000], key=lambda one: one.at)
        take_pushed(logger=logger, readings=part, at=at)
    return logger
