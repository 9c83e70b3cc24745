"""Minutes of work by hand that a studio reckons with, told by whichever app above knows.

Firing knows no prices and no quotes. An app that does registers a function when it
starts; without one, the times here are a guess without source.
"""

from collections.abc import Callable
from dataclasses import dataclass

from studio.models import Studio


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchTimes:
    """Minutes of work by hand that the studio reckons with."""

    painting_minutes_per_pass: int
    cutting_minutes_per_layer: int
    assembly_minutes: int
    coldwork_minutes: int


GUESS = BenchTimes(
    painting_minutes_per_pass=90,
    cutting_minutes_per_layer=15,
    assembly_minutes=240,
    coldwork_minutes=480,
)
BenchTimesProvider = Callable[[Studio], BenchTimes]

_providers: list[BenchTimesProvider] = []


def on_bench_times(provider: BenchTimesProvider) -> BenchTimesProvider:
    """Register who knows a studio's minutes; the last one registered is asked."""
    if provider not in _providers:
        _providers.append(provider)
    return provider


def bench_times(studio: Studio) -> BenchTimes:
    """Return the studio's minutes of work by hand."""
    return _providers[-1](studio) if _providers else GUESS
