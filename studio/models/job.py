"""Work for the background worker, kept in the database until it is done.

The row is the truth; a message to the worker only wakes it. `studio.jobs` claims, runs
and finishes jobs.
"""

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class JobState(models.TextChoices):
    """The state of a job."""

    WAITING = "waiting", "Waiting"
    RUNNING = "running", "Running"
    DONE = "done", "Done"
    FAILED = "failed", "Failed"


OPEN_JOB_STATES = [JobState.WAITING, JobState.RUNNING]


class Job(StudioOwned):
    """One piece of slow work, its lease and how it ended."""

    # An index of its own would repeat the first column of two others.
    studio = models.ForeignKey(
        "studio.Studio", on_delete=models.CASCADE, related_name="+", db_index=False
    )
    name = models.CharField(max_length=100)
    arguments = models.JSONField(default=dict)
    key = models.CharField(
        max_length=200,
        blank=True,
        help_text="While a job with this key waits or runs, there is no second one.",
    )
    state = models.CharField(max_length=8, choices=JobState, default=JobState.WAITING)
    progress = models.CharField(max_length=200, blank=True)
    error = models.TextField(blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    token = models.CharField(max_length=32, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    run_after = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "key"],
                condition=~Q(key="") & Q(state__in=OPEN_JOB_STATES),
                name="job_key_once_while_open",
            ),
            models.CheckConstraint(
                condition=~Q(state=JobState.RUNNING)
                | (Q(lease_until__isnull=False) & ~Q(token="")),
                name="job_running_has_lease",
            ),
        ]
        indexes = [
            # Whole, not only of open jobs: SQLite takes no partial index for one state.
            models.Index(fields=["state", "studio", "name"], name="job_by_state"),
            models.Index(fields=["studio", "key"], name="job_by_key"),
            models.Index(fields=["studio", "name", "created_at"], name="job_by_name"),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.get_state_display()})"

    @property
    def is_over(self) -> bool:
        """Return whether the job ended, well or badly."""
        return self.state in {JobState.DONE, JobState.FAILED}

    @property
    def trouble(self) -> str:
        """Say why the job failed, or what an open one waits for."""
        if self.state == JobState.FAILED:
            return self.error
        is_put_off = self.state == JobState.WAITING and self.progress
        return f"{self.progress}." if is_put_off else ""
