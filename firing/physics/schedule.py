"""A firing's programme: segments of rate, target and hold, and the curve they ask for.

`kiln.model` says how a kiln follows it; `designing.annealing_table` and
`designing.programmes` say which programme a glass needs.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firing.physics.refusals import Cause, Given, Refusal, celsius, per_hour, seconds
from studio.errors import StudioError
from studio.units import (
    COLDEST_C,
    HOTTEST_C,
    LONGEST_S,
    TemperatureUnit,
    celsius_difference_to_fahrenheit,
    celsius_to_fahrenheit,
    fahrenheit_difference_to_celsius,
    fahrenheit_to_celsius,
)

FloatArray = NDArray[np.float64]

# Keeps 427.0000001 from becoming 428 when it is rounded to what a controller takes.
ROUNDING_SLACK = 1e-6


class PhysicsProblem(StudioError):
    """Glass, kiln or programme are outside what the model is valid for.

    Its message is the plain sentence in SI; pages say it again in the reader's units.
    """

    def __init__(self, cause: Cause, **given: Given) -> None:
        self.refusal = Refusal(cause, given)
        super().__init__(str(self.refusal))


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """One step of a programme: go to a target at a rate, and hold.

    Attributes
    ----------
    label : str
        What the step is for, in the workshop's words.
    rate_c_per_h : float or None
        Rate towards the target [°C/h], without a sign; None is as fast as the kiln can.
    target_c : float
        Temperature at the end of the ramp [°C].
    hold_s : float
        Time at the target [s].
    """

    label: str
    rate_c_per_h: float | None
    target_c: float
    hold_s: float = 0.0

    def __post_init__(self) -> None:
        if self.rate_c_per_h is not None and not 0 < self.rate_c_per_h < math.inf:
            raise PhysicsProblem(
                Cause.RATE, label=self.label, rate=per_hour(self.rate_c_per_h)
            )
        _check_temperature(self.target_c, Cause.TARGET, label=self.label)
        if not 0 <= self.hold_s <= LONGEST_S:
            raise PhysicsProblem(
                Cause.HOLD, label=self.label, hold=seconds(self.hold_s)
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """A programme: where it starts [°C] and its segments in order."""

    start_c: float
    segments: tuple[Segment, ...]

    def __post_init__(self) -> None:
        _check_temperature(self.start_c, Cause.START)
        if not self.segments:
            raise PhysicsProblem(Cause.NO_SEGMENT)

    @property
    def peak_c(self) -> float:
        """The highest target [°C]."""
        return max(segment.target_c for segment in self.segments)

    @property
    def end_c(self) -> float:
        """The last target [°C]."""
        return self.segments[-1].target_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Temperature over time, straight between points.

    Attributes
    ----------
    time_s : ndarray, shape (n,)
        Seconds since the start, never decreasing.
    temperature_c : ndarray, shape (n,)
        Temperature at that time [°C].
    """

    time_s: FloatArray
    temperature_c: FloatArray


def planned_curve(schedule: Programme, fastest_c_per_h: float) -> Curve:
    """Return the breakpoints of what the programme asks for.

    Parameters
    ----------
    schedule : Programme
        The programme.
    fastest_c_per_h : float
        Rate drawn for "as fast as the kiln can", and for any faster one [°C/h]. The
        real curve of such a part is `kiln_model.follow`'s.

    Returns
    -------
    Curve
        The start, the end of each ramp, and the end of each hold that has a length.

    Raises
    ------
    PhysicsProblem
        If the fastest rate is not above zero.

    References
    ----------
    Arithmetic: ramp time = difference / rate.
    """
    if not 0 < fastest_c_per_h < math.inf:
        raise PhysicsProblem(Cause.FASTEST_RATE)
    times, temperatures = [0.0], [schedule.start_c]
    for _, before_c, segment in _steps(schedule):
        rate = min(segment.rate_c_per_h or fastest_c_per_h, fastest_c_per_h)
        ramp_s = abs(segment.target_c - before_c) / rate * 3600
        for lasts_s in (ramp_s, segment.hold_s):
            if lasts_s > 0:
                times.append(times[-1] + lasts_s)
                temperatures.append(segment.target_c)
    return Curve(time_s=np.array(times), temperature_c=np.array(temperatures))


def duration_s(schedule: Programme, fastest_c_per_h: float) -> float:
    """Return how long the programme takes as asked for [s].

    Parameters
    ----------
    schedule : Programme
        The programme.
    fastest_c_per_h : float
        As for `planned_curve` [°C/h].

    References
    ----------
    Arithmetic, as `planned_curve`.
    """
    return float(planned_curve(schedule, fastest_c_per_h).time_s[-1])


def fit_to_controller(
    schedule: Programme,
    *,
    unit: TemperatureUnit,
    segments_available: int,
    slowest_c_per_h: float,
    fastest_c_per_h: float,
    rate_step: float = 1.0,
) -> Programme:
    """Round a programme to what a controller takes, always to the safe side.

    Targets become whole degrees of the controller's scale: the nearest where the
    glass stays, the colder where it only passes while cooling (so that the slower of
    two rates lasts longer). Holds become whole minutes, longer rather than shorter.
    Rates are cut to whole steps, so heating and cooling are never faster than asked;
    a rate faster than the controller takes becomes its fastest. "As fast as the kiln
    can" stays.

    Parameters
    ----------
    schedule : Programme
        The programme, exact.
    unit : TemperatureUnit
        The scale that the controller is programmed in.
    segments_available : int
        How many segments it takes.
    slowest_c_per_h, fastest_c_per_h : float
        The rates it takes [°C/h].
    rate_step : float
        The step of its rates in its own scale [°/h]: 1, or 0.1 for some.

    Returns
    -------
    Schedule
        The rounded programme, in °C and seconds again.

    Raises
    ------
    PhysicsProblem
        If there are too few segments, or a rate is slower than the controller takes.

    References
    ----------
    Common practice, no source: whole degrees, whole degrees per hour, whole minutes.
    """
    if not 0 < slowest_c_per_h <= fastest_c_per_h or rate_step <= 0:
        raise PhysicsProblem(Cause.CONTROLLER_RATES)
    if len(schedule.segments) > segments_available:
        raise PhysicsProblem(
            Cause.TOO_MANY_SEGMENTS,
            count=str(len(schedule.segments)),
            available=str(segments_available),
        )
    fitted = []
    for number, before_c, segment in _steps(schedule):
        rate = segment.rate_c_per_h
        if rate is not None and segment.target_c != before_c:
            rate = _fitted_rate(rate, unit, slowest_c_per_h, fastest_c_per_h, rate_step)
            if rate is None:
                slowest = _slowest_on_grid(slowest_c_per_h, unit, rate_step)
                raise PhysicsProblem(
                    Cause.SEGMENT_TOO_SLOW,
                    number=str(number),
                    label=segment.label,
                    needed=per_hour(segment.rate_c_per_h or 0),
                    slowest=per_hour(round(slowest, 2)),
                )
        passing = segment.target_c < before_c and segment.hold_s == 0
        fitted.append(
            Segment(
                label=segment.label,
                rate_c_per_h=rate,
                target_c=_fitted_target(segment.target_c, unit, passing=passing),
                hold_s=math.ceil(segment.hold_s / 60 - ROUNDING_SLACK) * 60.0,
            )
        )
    return Programme(start_c=schedule.start_c, segments=tuple(fitted))


def _steps(schedule: Programme) -> Iterator[tuple[int, float, Segment]]:
    """Yield each segment with its number and the temperature it starts from."""
    before_c = schedule.start_c
    for number, segment in enumerate(schedule.segments, start=1):
        yield number, before_c, segment
        before_c = segment.target_c


def _fitted_rate(
    rate_c_per_h: float,
    unit: TemperatureUnit,
    slowest_c_per_h: float,
    fastest_c_per_h: float,
    rate_step: float,
) -> float | None:
    """Return the next slower rate of the controller, or None if it has none."""
    wanted = min(rate_c_per_h, fastest_c_per_h)
    if unit is TemperatureUnit.F:
        wanted = celsius_difference_to_fahrenheit(wanted)
    steps = math.floor(wanted / rate_step + ROUNDING_SLACK)
    rate = _to_c_difference(steps * rate_step, unit)
    return rate if steps and rate >= slowest_c_per_h - ROUNDING_SLACK else None


def _slowest_on_grid(
    slowest_c_per_h: float, unit: TemperatureUnit, rate_step: float
) -> float:
    """Return the slowest rate that is both allowed and a whole step [°C/h]."""
    slowest = slowest_c_per_h
    if unit is TemperatureUnit.F:
        slowest = celsius_difference_to_fahrenheit(slowest)
    steps = max(1, math.ceil(slowest / rate_step - ROUNDING_SLACK))
    return _to_c_difference(steps * rate_step, unit)


def _fitted_target(target_c: float, unit: TemperatureUnit, *, passing: bool) -> float:
    fahrenheit = unit is TemperatureUnit.F
    shown = celsius_to_fahrenheit(target_c) if fahrenheit else target_c
    whole = math.floor(shown + (ROUNDING_SLACK if passing else 0.5))
    return fahrenheit_to_celsius(whole) if fahrenheit else float(whole)


def _to_c_difference(difference: float, unit: TemperatureUnit) -> float:
    if unit is TemperatureUnit.F:
        return fahrenheit_difference_to_celsius(difference)
    return difference


def _check_temperature(temperature_c: float, cause: Cause, **named: str) -> None:
    if not COLDEST_C <= temperature_c <= HOTTEST_C:
        raise PhysicsProblem(
            cause,
            given=celsius(temperature_c),
            low=celsius(COLDEST_C),
            high=celsius(HOTTEST_C),
            **named,
        )
