"""Reads of the archives that a studio asked for."""

from dataclasses import dataclass

from studio.models import Export, JobState, Studio
from studio.tenancy import StudioQuerySet

EXPORT_JOB = "studio.export"


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportState:
    """The newest archive: there, being made, failed, or not asked for."""

    export: Export | None

    @property
    def name(self) -> str:
        """Return the state for `_job.html`, or "none"."""
        if self.export is None:
            return "none"
        if self.export.file:
            return "ready"
        job = self.export.job
        is_over = job is None or job.state == JobState.FAILED
        return "failed" if is_over else "making"

    @property
    def progress(self) -> str:
        """Return the worker's progress."""
        job = None if self.export is None else self.export.job
        return job.progress if job is not None else ""

    @property
    def problem(self) -> str:
        """Say what went wrong, in the job's words."""
        job = None if self.export is None else self.export.job
        return job.error if job is not None else ""


def exports(studio: Studio) -> StudioQuerySet[Export]:
    """Return the studio's archives, newest first."""
    return Export.owned.for_studio(studio).select_related("job", "studio")


def newest_export(studio: Studio) -> ExportState:
    """Return the state of the newest archive."""
    return ExportState(export=exports(studio).first())
