"""Sets the minutes of work by hand that a studio reckons with."""

from dataclasses import asdict

from studio.models import BenchMinutes, Studio
from studio.selectors.bench_times import WorkMinutes


def set_work_minutes(*, studio: Studio, minutes: WorkMinutes) -> None:
    """Set the studio's minutes; what was planned or quoted before keeps its own.

    Whoever sets them tells the history.
    """
    BenchMinutes.across_studios.update_or_create(
        studio=studio, defaults=asdict(minutes)
    )
