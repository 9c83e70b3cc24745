"""A kiln as one heat capacity with one loss: how it follows a programme, and what that
costs in energy.

The load's own heat and the difference between top and bottom are left out; measured
kilns have their own time constant and holding power.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from firing.physics.refusals import Cause, celsius, number
from firing.physics.schedule import FloatArray, PhysicsProblem, Programme, Segment

JOULES_PER_KWH = 3.6e6
# A ramp that falls back less than this is on the ramp: arithmetic, not a weak kiln.
LAG_TOLERANCE_K = 1e-6
# Closer than this to what full power can hold, a target takes forever.
REACH_K = 0.5
MOST_STEPS = 2_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnModel:
    """A kiln: C dT/dt = P u - UA (T - Ta), with 0 <= u <= 1.

    Attributes
    ----------
    power_w : float
        Electrical power P of all elements [W].
    max_temperature_c : float
        Highest temperature it is rated for [°C].
    ambient_c : float
        Room temperature Ta [°C].
    holding_fraction : float
        Share of the power that holds the highest temperature; above 1 for a kiln that
        no longer gets there.
    cooling_time_constant_s : float
        Time in which, switched off, its distance to the room falls to 1/e [s].
    """

    power_w: float
    max_temperature_c: float
    ambient_c: float
    holding_fraction: float
    cooling_time_constant_s: float

    def __post_init__(self) -> None:
        for name, value, low, high in (
            ("power", self.power_w, 0, 1e6),
            ("holding fraction", self.holding_fraction, 0, 2),
            ("cooling time constant", self.cooling_time_constant_s, 0, 1e7),
        ):
            if not low < value <= high:
                raise PhysicsProblem(
                    Cause.KILN_NUMBER,
                    name=name,
                    low=number(low),
                    high=number(high),
                    value=number(value),
                )
        if not -50 <= self.ambient_c < self.max_temperature_c <= 1700:
            raise PhysicsProblem(
                Cause.KILN_TEMPERATURES,
                most=celsius(1700),
                highest=celsius(self.max_temperature_c),
                room=celsius(self.ambient_c),
            )

    @property
    def loss_w_per_k(self) -> float:
        """UA: heat lost per degree above the room [W/K]."""
        return (
            self.holding_fraction
            * self.power_w
            / (self.max_temperature_c - self.ambient_c)
        )

    @property
    def full_power_holds_c(self) -> float:
        """Temperature that full power would reach after a very long time [°C]."""
        return self.ambient_c + self.power_w / self.loss_w_per_k


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnRun:
    """How a kiln followed a programme.

    Attributes
    ----------
    time_s : ndarray, shape (n,)
        Seconds since the start, strictly rising.
    temperature_c : ndarray, shape (n,)
        Kiln temperature [°C]; between two points it is an exponential.
    energy_kwh : float
        Electrical energy of the whole run [kWh].
    ready_s : float
        When it is down to the opening temperature after the last segment [s].
    segment_ends_s : tuple of float
        End of each segment, hold included [s].
    segment_lags_k : tuple of float
        Furthest that the kiln was from the ramp in each segment [K]; zero where it
        kept up, and where "as fast as the kiln can" was asked.
    segment_late_s : tuple of float
        How much longer than asked each ramp took [s].
    """

    time_s: FloatArray
    temperature_c: FloatArray
    energy_kwh: float
    ready_s: float
    segment_ends_s: tuple[float, ...]
    segment_lags_k: tuple[float, ...]
    segment_late_s: tuple[float, ...]


def follow(
    schedule: Programme, kiln: KilnModel, *, until_c: float, step_s: float = 60.0
) -> KilnRun:
    """Run a programme in a kiln, and let it cool to the opening temperature.

    The controller aims at the ramp at the end of each step, with a power between none
    and all; a hold begins when the kiln is at its target, not when the clock says so.

    Parameters
    ----------
    schedule : Programme
        The programme.
    kiln : KilnModel
        The kiln.
    until_c : float
        Opening temperature [°C]: after the last segment the kiln, switched off, cools
        to it.
    step_s : float
        Longest step of the clock [s].

    Returns
    -------
    KilnRun
        Temperature, energy, lags.

    Raises
    ------
    PhysicsProblem
        If a target lies above the kiln's rating or above what full power can hold, or
        a target or the opening temperature is not above the room's.

    Notes
    -----
    With constant power the equation is linear, T -> Teq + (T - Teq) exp(-dt/tau) with
    Teq = Ta + P u/UA, and each step uses that exactly; the step only limits how finely
    a ramp is drawn.

    References
    ----------
    First-order lumped capacitance, as in any text on heat transfer (from memory).
    """
    _check(schedule, kiln, until_c=until_c, step_s=step_s)
    run = _Running(kiln, step_s, schedule.start_c)
    ends, lags, late = [], [], []
    for segment in schedule.segments:
        began_s, began_c = run.now_s, run.temperature_c
        lags.append(run.ramp(segment))
        late.append(_late_s(segment, began_c, run.now_s - began_s))
        run.hold(segment)
        ends.append(run.now_s)
    run.cool_to(until_c)
    return KilnRun(
        time_s=np.array(run.times),
        temperature_c=np.array(run.temperatures),
        energy_kwh=run.energy_j / JOULES_PER_KWH,
        ready_s=run.now_s,
        segment_ends_s=tuple(ends),
        segment_lags_k=tuple(lags),
        segment_late_s=tuple(late),
    )


@dataclass(slots=True)
class _Running:
    """The kiln's state while a run is computed."""

    kiln: KilnModel
    step_s: float
    temperature_c: float
    now_s: float = 0.0
    energy_j: float = 0.0
    times: list[float] = field(default_factory=list)
    temperatures: list[float] = field(default_factory=list)
    # Taken out of the inner loop: a run has thousands of steps.
    tau_s: float = 0.0
    gain_k: float = 0.0
    whole_step_decay: float = 0.0

    def __post_init__(self) -> None:
        self.tau_s = self.kiln.cooling_time_constant_s
        self.gain_k = self.kiln.full_power_holds_c - self.kiln.ambient_c
        self.whole_step_decay = math.exp(-self.step_s / self.tau_s)
        self.times.append(0.0)
        self.temperatures.append(self.temperature_c)

    def ramp(self, segment: Segment) -> float:
        """Go to the target at the rate, and return the furthest lag [K]."""
        target_c = segment.target_c
        if segment.rate_c_per_h is None:
            self._go_all_out(target_c)
            return 0.0
        slope = segment.rate_c_per_h / 3600
        if target_c < self.temperature_c:
            slope = -slope
        aim_c, lag_k = self.temperature_c, 0.0
        while aim_c != target_c:
            left_s = (target_c - aim_c) / slope
            if left_s <= self.step_s:
                step_s, aim_c = left_s, target_c
            else:
                step_s, aim_c = self.step_s, aim_c + slope * self.step_s
            self._advance(step_s, self._power_for(aim_c, step_s), landing_c=aim_c)
            lag_k = max(lag_k, abs(aim_c - self.temperature_c))
        self._go_all_out(target_c)
        return lag_k if lag_k > LAG_TOLERANCE_K else 0.0

    def hold(self, segment: Segment) -> None:
        """Stay at the target for the hold."""
        power = (segment.target_c - self.kiln.ambient_c) / self.gain_k
        self._in_steps(
            segment.hold_s,
            lambda step_s: self._advance(step_s, power, landing_c=segment.target_c),
        )

    def cool_to(self, until_c: float) -> None:
        """Cool, switched off; a kiln already that cold is ready at once."""
        if self.temperature_c > until_c:
            self._go_all_out(until_c)

    def _go_all_out(self, target_c: float) -> None:
        """Full power up, or none down, for the time that the closed form gives."""
        if target_c == self.temperature_c:
            return
        power = 1.0 if target_c > self.temperature_c else 0.0
        limit_c = self.kiln.ambient_c + power * self.gain_k
        left_s = self.tau_s * math.log(
            (self.temperature_c - limit_c) / (target_c - limit_c)
        )
        self._in_steps(left_s, lambda step_s: self._advance(step_s, power))
        self.temperature_c = self.temperatures[-1] = target_c

    def _in_steps(self, lasts_s: float, advance: Callable[[float], None]) -> None:
        whole = math.floor(lasts_s / self.step_s)
        for _ in range(whole):
            advance(self.step_s)
        rest_s = lasts_s - whole * self.step_s
        if rest_s > 0:
            advance(rest_s)

    def _power_for(self, aim_c: float, step_s: float) -> float:
        """Return the share of power that ends this step on the ramp, 0 to 1."""
        decay = self._decay(step_s)
        if decay == 1.0:
            return 0.0
        limit_c = (aim_c - self.temperature_c * decay) / (1 - decay)
        return min(max((limit_c - self.kiln.ambient_c) / self.gain_k, 0.0), 1.0)

    def _advance(
        self, step_s: float, power: float, *, landing_c: float | None = None
    ) -> None:
        limit_c = self.kiln.ambient_c + power * self.gain_k
        reached_c = limit_c + (self.temperature_c - limit_c) * self._decay(step_s)
        if landing_c is not None and abs(reached_c - landing_c) < LAG_TOLERANCE_K:
            reached_c = landing_c
        self.temperature_c = reached_c
        self.energy_j += self.kiln.power_w * power * step_s
        if self.now_s + step_s <= self.now_s:  # Too short for the clock to show.
            self.temperatures[-1] = reached_c
            return
        if len(self.times) >= MOST_STEPS:
            raise PhysicsProblem(Cause.RUN_TOO_LONG, most=str(MOST_STEPS))
        self.now_s += step_s
        self.times.append(self.now_s)
        self.temperatures.append(reached_c)

    def _decay(self, step_s: float) -> float:
        if step_s == self.step_s:
            return self.whole_step_decay
        return math.exp(-step_s / self.tau_s)


def _late_s(segment: Segment, began_c: float, took_s: float) -> float:
    if segment.rate_c_per_h is None:
        return 0.0
    asked_s = abs(segment.target_c - began_c) / segment.rate_c_per_h * 3600
    # A millisecond is the closed form's rounding, not lateness.
    return took_s - asked_s if took_s - asked_s > 1e-3 else 0.0


def _check(
    schedule: Programme, kiln: KilnModel, *, until_c: float, step_s: float
) -> None:
    if not 0 < step_s < math.inf:
        raise PhysicsProblem(Cause.RUN_STEP)
    if schedule.peak_c > kiln.max_temperature_c:
        raise PhysicsProblem(
            Cause.ABOVE_THE_RATING,
            peak=celsius(schedule.peak_c),
            rating=celsius(kiln.max_temperature_c),
        )
    if schedule.peak_c > kiln.full_power_holds_c - REACH_K:
        raise PhysicsProblem(
            Cause.ABOVE_FULL_POWER,
            peak=celsius(schedule.peak_c),
            holds=celsius(round(kiln.full_power_holds_c, 0)),
        )
    coldest_c = min(segment.target_c for segment in schedule.segments)
    if min(coldest_c, until_c) <= kiln.ambient_c:
        raise PhysicsProblem(
            Cause.BELOW_THE_ROOM,
            coldest=celsius(min(coldest_c, until_c)),
            room=celsius(kiln.ambient_c),
        )
