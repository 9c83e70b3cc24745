"""Sets a studio's minutes for work by hand."""

from dataclasses import asdict

from studio.models import BenchMinutes, Studio
from studio.selectors.bench_times import WorkMinutes


def set_work_minutes(*, studio: Studio, minutes: WorkMinutes) -> None:
    """Set the studio's minutes; earlier plans and quotes keep their own.

    The caller writes the history.
    """
    BenchMinutes.across_studios.update_or_create(
        studio=studio, defaults=asdict(minutes)
    )
