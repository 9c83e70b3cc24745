"""What was changed in a kiln: its book, beside what its firings tell."""

from django.db import models

from studio.tenancy import StudioOwned


class ChangedPart(models.TextChoices):
    """What was changed in a kiln."""

    ELEMENTS = "elements", "Elements"
    THERMOCOUPLE = "thermocouple", "Thermocouple"
    RELAY = "relay", "Relay"
    DOOR_SEAL = "door_seal", "Door seal"
    OTHER = "other", "Something else"


class KilnChange(StudioOwned):
    """A part of a kiln that was changed on a day."""

    kiln = models.ForeignKey(
        "studio.Kiln", on_delete=models.CASCADE, related_name="changes"
    )
    changed_on = models.DateField()
    part = models.CharField(max_length=16, choices=ChangedPart)
    note = models.CharField(max_length=200, blank=True)
    upkeep = models.ForeignKey(
        "firing.KilnUpkeep",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="done",
        help_text="What was done that comes round, instead of a part that was changed.",
    )
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta(StudioOwned.Meta):
        ordering = ["-changed_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.what} on {self.changed_on:%-d %b %Y}"

    @property
    def what(self) -> str:
        """Return what was changed or done."""
        if self.upkeep is not None:
            return self.upkeep.what
        is_named = self.part == ChangedPart.OTHER and self.note
        return self.note if is_named else f"{self.get_part_display()} changed"


class UpkeepCount(models.TextChoices):
    """What brings a kiln's upkeep round again."""

    FIRINGS = "firings", "firings"
    HOURS = "hours", "hours hot"
    MONTHS = "months", "months"


class KilnUpkeep(StudioOwned):
    """Something that is done to a kiln after so many firings, hours or months."""

    kiln = models.ForeignKey(
        "studio.Kiln", on_delete=models.CASCADE, related_name="upkeep"
    )
    what = models.CharField(max_length=80)
    every = models.PositiveIntegerField()
    counted = models.CharField(max_length=8, choices=UpkeepCount)
    since = models.DateField(help_text="Counted from this day until it is done first.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta(StudioOwned.Meta):
        ordering = ["what", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(every__gte=1), name="upkeep_comes_round"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} every {self.every} {self.get_counted_display()}"
