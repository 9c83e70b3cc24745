"""How long somebody worked at a task on a piece: timed or typed."""

from django.db import models
from django.db.models import F, Q

from studio.tenancy import StudioOwned

MOST_MINUTES_AT_ONCE = 24 * 60


class TaskTime(StudioOwned):
    """Somebody's time at a task on one piece; it runs until its minutes are known.

    What counts is `minutes`; when it started and ended only says where they come from.
    A time of painting counts by itself until passes are recorded that it went into:
    from then on it is in their minutes. Nothing is deleted, only taken back.
    """

    piece = models.ForeignKey(
        "studio.Piece", on_delete=models.CASCADE, related_name="task_times"
    )
    task = models.CharField(max_length=40, help_text="The key of the task.")
    task_name = models.CharField(max_length=80, help_text="What it was called then.")
    person = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    minutes = models.PositiveIntegerField(null=True, blank=True)
    day = models.DateField(help_text="When the work was done, by the studio's clock.")
    note = models.CharField(max_length=160, blank=True)
    passes = models.ManyToManyField(
        "studio.Pass",
        blank=True,
        related_name="task_times",
        help_text="Those that its minutes were divided among.",
    )
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    taken_back_reason = models.CharField(max_length=200, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["day", "recorded_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "person"],
                condition=Q(minutes__isnull=True, taken_back_at__isnull=True),
                name="one_running_timer_per_person",
            ),
            models.CheckConstraint(
                condition=Q(
                    minutes__isnull=True,
                    started_at__isnull=False,
                    ended_at__isnull=True,
                )
                | Q(minutes__gte=1, minutes__lte=MOST_MINUTES_AT_ONCE),
                name="task_time_runs_or_has_minutes",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("started_at")),
                name="task_time_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.task_name}: {self.piece}"
