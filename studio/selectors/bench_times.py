"""A studio's minutes for work by hand."""

from dataclasses import dataclass, fields

from studio.models import BenchMinutes, Studio


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchTimes:
    """Minutes of work by hand in plans."""

    painting_minutes_per_pass: int
    cutting_minutes_per_layer: int
    assembly_minutes: int
    coldwork_minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkMinutes(BenchTimes):
    """All of a studio's minutes for work by hand; loading a kiln counts only in prices."""

    loading_minutes_per_firing: int


def work_minutes(studio: Studio) -> WorkMinutes:
    """Return the studio's minutes; the usual ones if it set none."""
    row = _row(studio)
    return WorkMinutes(**{f.name: getattr(row, f.name) for f in fields(WorkMinutes)})


def bench_times(studio: Studio) -> BenchTimes:
    """Return the minutes of `work_minutes` that plans use."""
    row = _row(studio)
    return BenchTimes(**{f.name: getattr(row, f.name) for f in fields(BenchTimes)})


def _row(studio: Studio) -> BenchMinutes:
    found: BenchMinutes | None = BenchMinutes.owned.for_studio(studio).first()
    return BenchMinutes(studio=studio) if found is None else found
