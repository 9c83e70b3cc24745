"""Makes the demo's readings: a kiln model with noise, and a power cut where one is due.

They are demo data, not measurements of any kiln.
"""

import numpy as np

from firing.physics.kiln.model import KilnModel, follow
from firing.physics.schedule import FloatArray, Programme
from studio.units import celsius_to_fahrenheit

EVERY_S = 300.0
NOISE_K = 0.8
DRIFT = 0.9


def recorded_csv(
    *,
    schedule: Programme,
    kiln: KilnModel,
    opening_c: float,
    seed: int,
    until_s: float | None = None,
    cut_at_s: float | None = None,
) -> bytes:
    """Return a controller's log in whole °F against elapsed time.

    `until_s` ends it while the firing is still running; after `cut_at_s` the kiln has
    no power and cools by itself.
    """
    run = follow(schedule, kiln, until_c=opening_c)
    last_s = float(run.time_s[-1])
    if cut_at_s is not None:
        last_s = max(last_s, cut_at_s + 2 * kiln.cooling_time_constant_s)
    time_s = np.arange(0.0, min(last_s, until_s or last_s), EVERY_S)
    true_c = np.interp(time_s, run.time_s, run.temperature_c)
    if cut_at_s is not None:
        at_cut_c = float(np.interp(cut_at_s, run.time_s, run.temperature_c))
        after = np.exp(-(time_s - cut_at_s) / kiln.cooling_time_constant_s)
        unpowered_c = kiln.ambient_c + (at_cut_c - kiln.ambient_c) * after
        true_c = np.where(time_s > cut_at_s, unpowered_c, true_c)
    shown_f = np.rint(celsius_to_fahrenheit(true_c + _noise(len(time_s), seed)))
    lines = ["elapsed;temperature °F"]
    lines += [
        f"{int(s) // 3600:02d}:{int(s) % 3600 // 60:02d}:{int(s) % 60:02d};{f:.0f}"
        for s, f in zip(time_s, shown_f, strict=True)
    ]
    return "\n".join(lines).encode()


def _noise(count: int, seed: int) -> FloatArray:
    """Return slowly wandering noise: a thermocouple does not jump."""
    rng = np.random.default_rng(seed)
    steps = rng.normal(0.0, NOISE_K * np.sqrt(1 - DRIFT**2), count)
    noise = np.zeros(count)
    for index in range(1, count):
        noise[index] = DRIFT * noise[index - 1] + steps[index]
    return noise
