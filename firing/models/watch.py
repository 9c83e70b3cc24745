"""What happened in firings as they ran, and when each was looked at last."""

from django.db import models
from django.db.models import Q

from firing.models.firing import Firing
from firing.physics.judging.watching import EventKind
from studio.tenancy import StudioOwned

# Not read from a fault but from what is known of the kiln: it may be opened.
MAY_BE_OPENED = "may be opened"


class FiringEvent(StudioOwned):
    """One thing that happened in a firing, from its beginning to its end.

    What the readings say now decides: an event that later readings do not bear out is
    withdrawn, and kept only if somebody was told of it.
    """

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="events")
    kind = models.CharField(
        max_length=20,
        choices=[
            *((one.value, one.value) for one in EventKind),
            (MAY_BE_OPENED, MAY_BE_OPENED),
        ],
    )
    segment = models.CharField(max_length=80, blank=True)
    begins_at = models.DateTimeField()
    ended_at = models.DateTimeField(
        null=True, blank=True, help_text="Empty while it goes on."
    )
    begins_c = models.FloatField()
    worst_c = models.FloatField()
    amount = models.FloatField(help_text="In SI, as `watching.Event` says.")
    seen_at = models.DateTimeField(help_text="When the program saw it first.")
    changed_at = models.DateTimeField(help_text="When it began, or was seen to end.")
    alarm_at = models.DateTimeField(
        null=True, blank=True, help_text="When people were told that it goes on."
    )
    told_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When people were told what follows, or nothing did.",
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_by = models.ForeignKey(
        "studio.Person",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    note = models.TextField(blank=True, help_text="What whoever saw to it wrote.")

    class Meta(StudioOwned.Meta):
        ordering = ["begins_at", "pk"]
        indexes = [
            models.Index(
                fields=["studio"],
                condition=Q(acknowledged_at__isnull=True, withdrawn_at__isnull=True),
                name="event_open",
            )
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True)
                | Q(ended_at__gte=models.F("begins_at")),
                name="event_ends_after_it_begins",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} in {self.firing}"


class FiringWatch(StudioOwned):
    """When a running firing is looked at next: once, however many workers there are."""

    firing = models.OneToOneField(
        Firing, on_delete=models.CASCADE, related_name="watch"
    )
    next_at = models.DateTimeField()

    class Meta(StudioOwned.Meta):
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"The watch of {self.firing}"
