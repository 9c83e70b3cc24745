"""Programmes typed into a running firing's controller instead of its schedule."""

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class TypedProgramme(StudioOwned):
    """A rescue: from `at` on, this is what the kiln does. It stands until taken back.

    The firing keeps its schedule, which is what the kiln did before.
    """

    firing = models.ForeignKey(
        "firing.Firing", on_delete=models.CASCADE, related_name="typed"
    )
    at = models.DateTimeField(help_text="When the controller was started with it.")
    action = models.CharField(max_length=32, help_text="What the judge calls it.")
    programme = models.JSONField(help_text="As `schedule_as_mapping` writes it.")
    curve = models.JSONField(help_text="[[seconds from `at`, °C], ...] as planned.")
    planned_before = models.JSONField(
        help_text="The booking's curve as it was before anything was typed."
    )
    said = models.TextField(blank=True, help_text="What the firing's note says of it.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
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
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "at"],
                condition=Q(taken_back_at__isnull=True),
                name="one_programme_typed_at_a_time",
            )
        ]

    def __str__(self) -> str:
        return f"{self.action} in {self.firing}"
