"""Firings in which something went wrong, each made from its kind and a seed.

What the kiln did comes from its own model; what was read of it is what a judge is told.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from firing.physics.designing.annealing_table import row_at_or_above
from firing.physics.designing.band import Uncertainty
from firing.physics.designing.programmes import ProcessHold, full_fuse_schedule
from firing.physics.glass.families import FLOAT, NINETY, NINETY_SIX
from firing.physics.glass.properties import soak_of
from firing.physics.glass.viscosity import as_soft_as_ninety, joins_c
from firing.physics.judging.verdict import JudgeRequest
from firing.physics.kiln.curve import kiln_curve
from firing.physics.kiln.model import KilnModel
from firing.physics.schedule import Programme
from firing.physics.slab.input import LooseStack
from firing.physics.slab.surroundings import BOTH_FACES_FILM, TOP_ONLY_FILM
from tests.firing.physics.readings import power_lost, sampled, without

HOUR_S, MINUTE_S = 3600.0, 60.0
OPENING_C, ROOM_C = 50.0, 20.0


class Kind(StrEnum):
    """What went wrong."""

    CUT = "no power for hours"
    SLOW_CUT = "less power for hours"
    GAP = "no power, and no readings of it"
    STUCK = "a thermocouple that stays at its last value"
    BROKEN = "a thermocouple at an end of its scale"
    OFFSET = "a thermocouple that is off, and nobody knows"
    TOLD_OFFSET = "a thermocouple that is off, and the judge is told"
    FAHRENHEIT = "degrees Fahrenheit taken for Celsius"
    CELSIUS = "degrees Celsius taken for Fahrenheit"
    RESTARTED = "a programme that starts again after a cut"
    WEAK = "an element lost on the way up"
    OPENED = "an opened door"


@dataclass(frozen=True)
class Made:
    """A firing with a fault.

    `request` is what a judge is told, `kiln` the kiln as it should be, and `true_c` how
    hot it was at each of the request's readings. The fault was between `from_s` and
    `to_s`.
    """

    request: JudgeRequest
    kiln: KilnModel
    true_c: np.ndarray
    from_s: float
    to_s: float


@dataclass
class _Firing:
    """A firing as planned, and the generator for what goes wrong in it."""

    request: JudgeRequest
    kiln: KilnModel
    rng: np.random.Generator

    @property
    def time_s(self):
        return self.request.time_s

    @property
    def kiln_c(self):
        return self.request.temperature_c

    @property
    def hottest_s(self):
        return float(self.time_s[np.argmax(self.kiln_c)])

    def moment(self, *, is_cooling=False):
        """Return some moment, one in four of them on the way up."""
        low, high = self.rng.uniform(0.02, 0.9, 2)
        if not is_cooling and self.rng.random() < 0.25:
            return low * self.hottest_s
        return self.hottest_s + high * (self.time_s[-1] - self.hottest_s)

    def between(self, low, high):
        return float(self.rng.uniform(low, high))

    def made(self, read_c, true_c, from_s, to_s, **changes):
        """Read it until a little after the fault, or to its end."""
        until_s = to_s + self.between(0, 2) * HOUR_S
        if self.rng.random() < 0.3:
            until_s = self.time_s[-1]
        upto = self.time_s <= until_s
        noise_k = self.rng.choice([0.0, 0.5])
        noisy_c = read_c + self.rng.normal(0, noise_k, read_c.size)
        # A broken or stuck thermocouple says the same again and again.
        noisy_c = np.where(read_c == true_c, noisy_c, read_c)
        request = replace(
            self.request,
            time_s=self.time_s[upto],
            temperature_c=noisy_c[upto],
            **changes,
        )
        return Made(request, self.kiln, true_c[upto], from_s, to_s)


def made(kind: Kind, seed: int) -> Made:
    """Return the firing of this kind and seed."""
    rng = np.random.default_rng([list(Kind).index(kind), seed])
    return WAYS[kind](_as_planned(rng))


def flawless(seed: int) -> Made:
    """Return a firing in which nothing went wrong."""
    firing = _as_planned(np.random.default_rng(seed))
    return Made(firing.request, firing.kiln, firing.kiln_c, 0.0, 0.0)


def _as_planned(rng: np.random.Generator) -> _Firing:
    glass = [NINETY, NINETY_SIX, FLOAT][rng.integers(3)]
    thickness_m = float(rng.uniform(0.012, 0.12))
    kiln = KilnModel(
        power_w=8000.0,
        max_temperature_c=1000.0,
        ambient_c=ROOM_C,
        holding_fraction=float(rng.uniform(0.4, 0.6)),
        cooling_time_constant_s=float(rng.uniform(5, 12)) * HOUR_S,
    )
    planned = full_fuse_schedule(
        thickness_m,
        row_at_or_above(thickness_m),
        soak_c=soak_of(glass),
        process=ProcessHold(
            temperature_c=as_soft_as_ninety(glass, 816.0), hold_s=900.0
        ),
        end_c=OPENING_C,
    )
    curve = kiln_curve(planned, kiln, until_c=OPENING_C)
    time_s, kiln_c = sampled(curve, float(rng.choice([60.0, 120.0, 300.0])))
    request = JudgeRequest(
        time_s=time_s,
        temperature_c=kiln_c,
        glass=glass,
        thickness_m=thickness_m,
        boundary=[TOP_ONLY_FILM, BOTH_FACES_FILM][rng.integers(2)],
        planned=planned,
        kiln=kiln,
        stack=LooseStack(sheet_m=0.003, joins_c=joins_c(glass)),
        opening_c=OPENING_C,
    )
    return _Firing(request, kiln, rng)


def _cut(firing: _Firing) -> Made:
    at_s, lasts_s = firing.moment(), firing.between(1, 5) * HOUR_S
    cut_c = power_lost(firing.time_s, firing.kiln_c, at_s, lasts_s, firing.kiln)
    return firing.made(cut_c, cut_c, at_s, at_s + lasts_s)


def _slow_cut(firing: _Firing) -> Made:
    at_s, lasts_s = firing.moment(), firing.between(3, 10) * HOUR_S
    share = firing.between(0.2, 0.9)
    cut_c = power_lost(
        firing.time_s, firing.kiln_c, at_s, lasts_s, firing.kiln, share=share
    )
    return firing.made(cut_c, cut_c, at_s, at_s + lasts_s)


def _gap(firing: _Firing) -> Made:
    """Nobody read from a little before the cut to a little after it."""
    at_s, lasts_s = firing.moment(), firing.between(1, 4) * HOUR_S
    cut_c = power_lost(firing.time_s, firing.kiln_c, at_s, lasts_s, firing.kiln)
    found = firing.made(cut_c, cut_c, at_s, at_s + lasts_s + 2 * HOUR_S)
    return hidden(
        found,
        max(at_s - firing.between(0, 1) * HOUR_S, 0.0),
        at_s + lasts_s + firing.between(0, 2) * HOUR_S,
    )


def _stuck(firing: _Firing) -> Made:
    at_s, lasts_s = firing.moment(), firing.between(0.5, 20) * HOUR_S
    stays_c = float(np.interp(at_s, firing.time_s, firing.kiln_c))
    return _misread(firing, at_s, lasts_s, stays_c)


def _broken(firing: _Firing) -> Made:
    at_s, lasts_s = firing.moment(), firing.between(0.2, 20) * HOUR_S
    return _misread(firing, at_s, lasts_s, firing.rng.choice([0.0, 1372.0]))


def _misread(firing: _Firing, at_s: float, lasts_s: float, says_c: float) -> Made:
    """Say the same all the time; every other controller then gives no power."""
    time_s, true_c = firing.time_s, firing.kiln_c
    if firing.rng.random() < 0.5:
        true_c = power_lost(time_s, true_c, at_s, lasts_s, firing.kiln)
    is_wrong = (time_s > at_s) & (time_s <= at_s + lasts_s)
    read_c = np.where(is_wrong, says_c, true_c)
    return firing.made(read_c, true_c, at_s, at_s + lasts_s)


def _offset(firing: _Firing) -> Made:
    """The controller brings what it sees where it should be; the kiln is elsewhere."""
    found = _cut(firing)
    return replace(
        found,
        true_c=hotter(found.true_c, firing.between(-15, 15)),
        request=replace(found.request, uncertainty=Uncertainty(thermocouple_k=15.0)),
    )


def _told_offset(firing: _Firing) -> Made:
    found, by_k = _cut(firing), firing.between(-15, 15)
    return replace(
        found,
        true_c=hotter(found.true_c, by_k),
        request=replace(found.request, kiln_offset_k=by_k),
    )


def hotter(shown_c: np.ndarray, by_k: float) -> np.ndarray:
    """Return a kiln that is hotter than it shows: wholly from 400 °C, not at 20 °C."""
    return shown_c + by_k * np.clip((shown_c - 20) / 380, 0, 1)


def _fahrenheit(firing: _Firing) -> Made:
    found = firing.made(firing.kiln_c, firing.kiln_c, 0.0, firing.moment())
    return _handed_over(found, found.request.temperature_c * 9 / 5 + 32)


def _celsius(firing: _Firing) -> Made:
    found = firing.made(firing.kiln_c, firing.kiln_c, 0.0, firing.moment())
    return _handed_over(found, (found.request.temperature_c - 32) * 5 / 9)


def _handed_over(found: Made, read_c: np.ndarray) -> Made:
    return replace(found, request=replace(found.request, temperature_c=read_c))


def _restarted(firing: _Firing) -> Made:
    """A cut on the way down, and from there the programme from its top."""
    at_s, lasts_s = firing.moment(is_cooling=True), firing.between(0.5, 3) * HOUR_S
    before = firing.time_s <= at_s + lasts_s
    cut_c = power_lost(firing.time_s, firing.kiln_c, at_s, lasts_s, firing.kiln)[before]
    again = Programme(
        start_c=float(cut_c[-1]), segments=firing.request.planned.segments
    )
    step_s = float(firing.time_s[1])
    later_s, later_c = sampled(
        kiln_curve(again, firing.kiln, until_c=OPENING_C), step_s
    )
    now_s = float(firing.time_s[before][-1])
    firing.request = replace(
        firing.request,
        time_s=np.concatenate((firing.time_s[before], now_s + later_s[1:])),
        temperature_c=np.concatenate((cut_c, later_c[1:])),
    )
    read_until_s = now_s + firing.between(0, 1) * later_s[-1]
    return firing.made(firing.kiln_c, firing.kiln_c, at_s, read_until_s)


def _weak(firing: _Firing) -> Made:
    """Half or a third of the power; after hours at its most the controller gives up."""
    kiln = firing.kiln
    holds_c = firing.rng.choice([1 / 2, 1 / 3]) * (kiln.full_power_holds_c - ROOM_C)
    # A kiln of which half is enough after all is one that lost more.
    holds_c = ROOM_C + min(holds_c, 0.95 * (firing.request.planned.peak_c - ROOM_C))
    from_s, step_s = firing.between(0, 0.9) * firing.hottest_s, float(firing.time_s[1])
    gives_up_s = firing.hottest_s + firing.between(1, 10) * HOUR_S
    share = np.exp(-step_s / kiln.cooling_time_constant_s)
    found_c, now_c = firing.kiln_c.copy(), float(firing.kiln_c[0])
    for place, time_s in enumerate(firing.time_s):
        asked_c = firing.kiln_c[place]
        if from_s < time_s <= gives_up_s:
            asked_c = asked_c if time_s < firing.hottest_s else firing.kiln_c.max()
            asked_c = min(asked_c, max(holds_c + (now_c - holds_c) * share, 0.0))
        elif time_s > gives_up_s:
            asked_c = ROOM_C + (now_c - ROOM_C) * share
        now_c = found_c[place] = asked_c
    return firing.made(found_c, found_c, from_s, gives_up_s)


def _opened(firing: _Firing) -> Made:
    """The air falls within minutes, and once the door is closed the bricks warm it."""
    at_s, lasts_s = firing.moment(), firing.between(5, 20) * MINUTE_S
    above_k = float(np.interp(at_s, firing.time_s, firing.kiln_c)) - ROOM_C
    falls_k = min(firing.between(50, 300), 0.65 * above_k)
    since_s = firing.time_s - at_s
    open_s, closed_s = np.clip(since_s, 0, lasts_s), np.clip(since_s - lasts_s, 0, None)
    falls_s, rises_s = firing.between(60, 180), firing.between(120, 400)
    dip_k = falls_k * (1 - np.exp(-open_s / falls_s)) * np.exp(-closed_s / rises_s)
    opened_c = firing.kiln_c - dip_k
    to_s = at_s + lasts_s + 5 * rises_s
    return firing.made(opened_c, opened_c, at_s, to_s)


WAYS: dict[Kind, Callable[[_Firing], Made]] = {
    Kind.CUT: _cut,
    Kind.SLOW_CUT: _slow_cut,
    Kind.GAP: _gap,
    Kind.STUCK: _stuck,
    Kind.BROKEN: _broken,
    Kind.OFFSET: _offset,
    Kind.TOLD_OFFSET: _told_offset,
    Kind.FAHRENHEIT: _fahrenheit,
    Kind.CELSIUS: _celsius,
    Kind.RESTARTED: _restarted,
    Kind.WEAK: _weak,
    Kind.OPENED: _opened,
}


def hidden(found: Made, from_s: float, to_s: float) -> Made:
    """Return the firing without the readings between two moments."""
    request = found.request
    time_s, read_c = without(request.time_s, request.temperature_c, from_s, to_s)
    _, true_c = without(request.time_s, found.true_c, from_s, to_s)
    return replace(
        found,
        request=replace(request, time_s=time_s, temperature_c=read_c),
        true_c=true_c,
    )
