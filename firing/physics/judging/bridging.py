"""What a kiln may have done while nothing was read: the worst ways across a gap.

A logger that dies with the power leaves a gap and no cut. `verdict` computes the glass
on each of these curves beside the straight line.
"""

import math

import numpy as np

from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.recorded import Gap
from firing.physics.schedule import Curve, FloatArray

# A kiln of which nothing is known, an assumption: small, and quick both ways.
UNKNOWN_KILN = KilnModel(
    power_w=5000.0,
    max_temperature_c=1000.0,
    ambient_c=20.0,
    holding_fraction=0.4,
    cooling_time_constant_s=3 * 3600.0,
)
POINTS = 13
HALVINGS = 60
# Colder than this nothing that a kiln does harms glass [°C].
WARM_C = 100.0

_Path = tuple[FloatArray, FloatArray]


def bridges(
    curve: Curve, gaps: tuple[Gap, ...], kiln: KilnModel | None
) -> tuple[Curve, ...]:
    """Return the kiln as it may have been, besides straight across each gap.

    Parameters
    ----------
    curve : Curve
        The readings, straight across the gaps.
    gaps : tuple of Gap
        Times without readings.
    kiln : KilnModel or None
        How the kiln cools by itself and heats at full power; None is a quick one.

    Returns
    -------
    tuple of Curve
        Without power from the last reading on, and at full power back to the next one;
        then kept where it was, and without power just in time for the next one. None
        where no gap leaves room for either.

    References
    ----------
    The kiln's model, see `kiln.model`; that these two are the worst is an assumption,
    tested by what other ways give.
    """
    kiln = kiln or UNKNOWN_KILN
    warm = [gap for gap in gaps if max(gap.start_c, gap.end_c) > WARM_C]
    found = []
    for way in (_dip, _late_fall):
        paths = [(gap, way(gap, kiln)) for gap in warm]
        known = [(gap, path) for gap, path in paths if path is not None]
        if known:
            found.append(_along(curve, known))
    return tuple(found)


def _dip(gap: Gap, kiln: KilnModel) -> _Path | None:
    """Fall without power, then rise at full power to the next reading."""
    lasts_s, tau_s = gap.end_s - gap.start_s, kiln.cooling_time_constant_s
    room_c, full_c = kiln.ambient_c, kiln.full_power_holds_c

    def falling(at_s: FloatArray) -> FloatArray:
        fallen: FloatArray = room_c + (gap.start_c - room_c) * np.exp(-at_s / tau_s)
        return fallen

    def rising(at_s: FloatArray) -> FloatArray:
        risen: FloatArray = full_c - (full_c - gap.end_c) * np.exp(
            (lasts_s - at_s) / tau_s
        )
        return risen

    if gap.end_c >= full_c or falling(np.array(lasts_s)) >= gap.end_c:
        return None
    low_s, high_s = 0.0, lasts_s
    for _ in range(HALVINGS):
        middle_s = np.array((low_s + high_s) / 2)
        if falling(middle_s) > rising(middle_s):
            low_s = float(middle_s)
        else:
            high_s = float(middle_s)
    down_s = np.linspace(0, low_s, POINTS)
    up_s = np.linspace(low_s, lasts_s, POINTS)[1:]
    return (
        gap.start_s + np.concatenate((down_s, up_s)),
        np.concatenate((falling(down_s), rising(up_s))),
    )


def _late_fall(gap: Gap, kiln: KilnModel) -> _Path | None:
    """Stay, then fall without power to the next reading."""
    room_c = kiln.ambient_c
    if not gap.start_c > gap.end_c > room_c:
        return None
    falls_s = kiln.cooling_time_constant_s * math.log(
        (gap.start_c - room_c) / (gap.end_c - room_c)
    )
    starts_s = gap.end_s - falls_s
    if starts_s <= gap.start_s:
        return None
    at_s = np.linspace(0, falls_s, POINTS)
    fallen_c = room_c + (gap.start_c - room_c) * np.exp(
        -at_s / kiln.cooling_time_constant_s
    )
    return (
        np.concatenate(([gap.start_s], starts_s + at_s)),
        np.concatenate(([gap.start_c], fallen_c)),
    )


def _along(curve: Curve, paths: list[tuple[Gap, _Path]]) -> Curve:
    """Return the curve with the paths instead of its straight lines."""
    times, kiln_c = curve.time_s, curve.temperature_c
    for gap, (path_s, path_c) in paths:
        before = times <= gap.start_s
        after = times >= gap.end_s
        times = np.concatenate((times[before], path_s, times[after]))
        kiln_c = np.concatenate((kiln_c[before], path_c, kiln_c[after]))
    return Curve(time_s=times, temperature_c=kiln_c)
