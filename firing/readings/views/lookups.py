"""Finds what an address names in the studio of whoever asks, else 404."""

from typing import TYPE_CHECKING

from django.shortcuts import get_object_or_404

from firing.readings.selectors.imports import imports
from firing.readings.selectors.kiln_record import comparisons
from firing.readings.selectors.loggers import loggers
from firing.schedules.selectors.evenness import measurements
from studio.http import StudioRequest

if TYPE_CHECKING:
    from firing.models import KilnComparison, KilnEvenness, KilnLogger, ReadingImport


def comparison_or_404(request: StudioRequest, pk: int) -> "KilnComparison":
    """Return a comparison of one of the studio's kilns."""
    return get_object_or_404(comparisons(request.studio), pk=pk)


def evenness_or_404(request: StudioRequest, pk: int) -> "KilnEvenness":
    """Return a measurement of how even one of the studio's kilns is."""
    return get_object_or_404(measurements(request.studio), pk=pk)


def logger_or_404(request: StudioRequest, pk: int) -> "KilnLogger":
    """Return a logger of one of the studio's kilns."""
    return get_object_or_404(loggers(request.studio), pk=pk)


def import_or_404(request: StudioRequest, pk: int) -> "ReadingImport":
    """Return a file of readings of the studio."""
    return get_object_or_404(imports(request.studio), pk=pk)
