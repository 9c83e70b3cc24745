"""Readings in another unit than they were said to be in, told by the plan.

A kiln at 1500 °F that is taken for 1500 °C has no verdict: no kiln was there.
"""

from contextlib import suppress

import numpy as np

from firing.physics.kiln.curve import kiln_curve
from firing.physics.kiln.model import KilnModel
from firing.physics.kiln.recorded import FilteredReadings, clean_readings
from firing.physics.refusals import Cause
from firing.physics.schedule import Curve, FloatArray, PhysicsProblem, Programme

# Own rules, without a source. A firing follows its plan this closely [K], by its
# hottest or by most of its readings; one in another unit is further off than FAR_K.
CLOSE_K, FAR_K = 25.0, 60.0
# Nothing in a studio that fires is colder [°C].
COLDEST_ROOM_C = 0.0
POINTS = 400


def check_unit(
    record: FilteredReadings,
    time_s: FloatArray,
    temperature_c: FloatArray,
    planned: Programme,
    kiln: KilnModel | None,
) -> None:
    """Refuse readings that follow their plan in another unit, and only in that.

    Parameters
    ----------
    record : FilteredReadings
        The firing as given.
    time_s, temperature_c : ndarray, shape (n,)
        Its readings [s, °C].
    planned : Programme
        What was asked for.
    kiln : KilnModel or None
        How the kiln follows it.

    Raises
    ------
    PhysicsProblem
        If they do.

    Notes
    -----
    Too hot readings are compared by their hottest, and by the plan's own clock, which
    finds them on the way up. Too cold ones look like a weak kiln, so they also have to
    begin colder than any room.

    References
    ----------
    Own rules, without a source.
    """
    other_units = [_from_fahrenheit]
    if record.curve.temperature_c.min() < COLDEST_ROOM_C:
        other_units.append(_to_fahrenheit)
    for other in other_units:
        # Readings that are none in the other unit either are not in it.
        with suppress(PhysicsProblem):
            converted = clean_readings(time_s, other(temperature_c))
            if _fits_alone(converted, record, planned, kiln):
                break
    else:
        return
    raise PhysicsProblem(Cause.NO_KILN_READINGS)


def _from_fahrenheit(given: FloatArray) -> FloatArray:
    converted: FloatArray = (given - 32) * 5 / 9
    return converted


def _to_fahrenheit(given: FloatArray) -> FloatArray:
    converted: FloatArray = given * 9 / 5 + 32
    return converted


def _fits_alone(
    one: FilteredReadings,
    other: FilteredReadings,
    planned: Programme,
    kiln: KilnModel | None,
) -> bool:
    """Return whether one record fits the plan where the other does not."""
    peak_c = planned.peak_c
    if abs(one.hottest_c - peak_c) <= CLOSE_K < FAR_K < abs(other.hottest_c - peak_c):
        return True
    # Raises if the kiln cannot do the plan: there is no clock to follow it by then.
    plan = kiln_curve(planned, kiln, until_c=planned.end_c)
    at_s = np.linspace(0, min(one.lasts_s, other.lasts_s), POINTS)
    asked_c = np.interp(at_s, plan.time_s, plan.temperature_c)
    return (
        _off_k(one.curve, at_s, asked_c)
        <= CLOSE_K
        < FAR_K
        < _off_k(other.curve, at_s, asked_c)
    )


def _off_k(curve: Curve, at_s: FloatArray, asked_c: FloatArray) -> float:
    kiln_c = np.interp(at_s, curve.time_s, curve.temperature_c)
    return float(np.median(np.abs(kiln_c - asked_c)))
