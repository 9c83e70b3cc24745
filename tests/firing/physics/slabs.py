"""Slabs and firings for the tests of the engine."""

from dataclasses import replace

import numpy as np

from firing.physics.designing.annealing_table import ROWS
from firing.physics.glass.families import NINETY
from firing.physics.glass.heat_capacity import HeatCapacity
from firing.physics.slab.input import DEFAULT_ACCURACY, SlabFiring
from firing.physics.slab.simulation import simulate
from firing.physics.slab.surroundings import BOTH_FACES, TOP_ONLY, Boundary, Face

HOUR_S = 3600.0

# The reference's example of steady cooling: k, rho, cp, E, nu, alpha.
PLAIN = replace(
    NINETY,
    name="constant properties",
    conductivity_w_mk=(1.2, 0.0),
    heat_capacity=HeatCapacity.constant(1100.0),
)
PLAIN_DIFFUSIVITY_M2_S = 1.2 / (2500 * 1100)


def history(*steps, start_c):
    """Return times and temperatures of (rate °C/h or None for a hold, target, hold s)."""
    times, temperatures = [0.0], [start_c]
    for rate, target_c, hold_s in steps:
        if target_c != temperatures[-1]:
            ramp_s = abs(target_c - temperatures[-1]) / rate * HOUR_S
            times.append(times[-1] + ramp_s)
            temperatures.append(target_c)
        if hold_s:
            times.append(times[-1] + hold_s)
            temperatures.append(target_c)
    return np.array(times), np.array(temperatures)


def firing(time_s, kiln_c, **changes):
    values = {
        "glass": NINETY,
        "thickness_m": 0.05,
        "boundary": BOTH_FACES,
        "time_s": np.asarray(time_s, dtype=float),
        "kiln_c": np.asarray(kiln_c, dtype=float),
    }
    return SlabFiring(**(values | changes))


def fired(time_s, kiln_c, accuracy=DEFAULT_ACCURACY, **changes):
    return simulate(firing(time_s, kiln_c, **changes), accuracy)


def films(h_w_m2k, emissivity=0.0):
    face = Face(film_w_m2k=h_w_m2k, emissivity=emissivity)
    return Boundary(bottom=face, top=face)


def row_of(thickness_mm):
    return next(row for row in ROWS if round(row.thickness_m * 1000) == thickness_mm)


def table_firing(thickness_mm, *, row=None, drop_c_per_h=200.0, **changes):
    """A published row after a drop from 800 °C; the window starts after the soak."""
    row = row or row_of(thickness_mm)
    first, second, final = row.rates_c_per_h
    time_s, kiln_c = history(
        (drop_c_per_h, 482.0, row.soak_s),
        (first, 427.0, 0),
        (second, 371.0, 0),
        (final, 21.0, 0),
        start_c=800.0,
    )
    values = {
        "thickness_m": thickness_mm / 1000,
        "window_s": (float(time_s[2]), float(time_s[-1])),
    }
    return firing(time_s, kiln_c, **(values | changes))


def full_fuse(thickness_m=0.06, heating_c_per_h=50.0, **changes):
    """Return a fuse of a slab from cold, and its slow anneal."""
    time_s, kiln_c = history(
        (heating_c_per_h, 640.0, 2 * HOUR_S),
        (150.0, 816.0, 900),
        (300.0, 482.0, 12 * HOUR_S),
        (1.7, 427.0, 0),
        (3.1, 371.0, 0),
        (10.0, 21.0, 0),
        start_c=20.0,
    )
    values = {"thickness_m": thickness_m, "boundary": TOP_ONLY}
    return firing(time_s, kiln_c, **(values | changes))
