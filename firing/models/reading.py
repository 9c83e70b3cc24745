"""Readings of a firing: from a controller's file, or sent by a logger."""

import secrets

from django.db import models

from firing.models.firing import Firing
from firing.models.logger import KilnLogger
from studio.tenancy import StudioManager, StudioOwned


class WholeImports(StudioManager["ReadingImport"]):
    """Sees files whose readings are all in."""

    def get_queryset(self) -> models.QuerySet["ReadingImport"]:
        """Leave out what a worker is still bringing in."""
        return super().get_queryset().filter(is_whole=True)


class ReadingsInPlace(StudioManager["Reading"]):
    """Sees no reading of a file that a worker is still bringing in."""

    def get_queryset(self) -> models.QuerySet["Reading"]:
        """Leave out the readings of files that are not whole."""
        coming = ReadingImport.with_unfinished.filter(is_whole=False).values("pk")
        return super().get_queryset().exclude(source__in=coming)


class ReadingImport(StudioOwned):
    """One file of readings, imported whole."""

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="imports")
    file_name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    row_count = models.PositiveIntegerField()
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    highest_c = models.FloatField()
    thin_curve = models.JSONField(
        default=list,
        help_text="[[seconds from the first reading, °C], ...], thinned for drawings.",
    )
    description = models.CharField(max_length=300, blank=True)
    read_as = models.JSONField(
        default=dict,
        help_text="columns: the file's header. answers: what its sender said of it. "
        "left_out: [[line, what is wrong], ...], the first hundred of left_out_count. "
        "is_cut_short: the last line was left out for that.",
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    is_whole = models.BooleanField(
        default=True, help_text="Its readings are all in; until then nobody sees them."
    )

    # The stubs take the inherited manager for one that no model may replace.
    across_studios = WholeImports()  # type: ignore[misc]
    with_unfinished = StudioManager()

    class Meta(StudioOwned.Meta):
        base_manager_name = "with_unfinished"
        ordering = ["first_at", "pk"]
        indexes = [
            models.Index(
                fields=["id"],
                condition=models.Q(is_whole=False),
                name="import_not_whole",
            )
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "sha256"], name="same_file_once_per_firing"
            )
        ]

    def __str__(self) -> str:
        return self.file_name


class Reading(StudioOwned):
    """A temperature that the controller or a logger recorded.

    There are millions, and each pays for every index, so there is none by studio alone:
    ask for the readings of a firing.
    """

    studio = models.ForeignKey(
        "studio.Studio", on_delete=models.CASCADE, related_name="+", db_index=False
    )
    firing = models.ForeignKey(
        Firing, on_delete=models.CASCADE, related_name="readings", db_index=False
    )
    source = models.ForeignKey(
        ReadingImport,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="readings",
        help_text="Empty: pushed one by one by a logger.",
    )
    logger = models.ForeignKey(
        KilnLogger,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        db_index=False,
        help_text="Who pushed it. Empty: from a file, or pushed before this was noted.",
    )
    at = models.DateTimeField()
    temperature_c = models.FloatField()

    across_studios = ReadingsInPlace()  # type: ignore[misc]
    with_unfinished = StudioManager()

    class Meta(StudioOwned.Meta):
        base_manager_name = "with_unfinished"
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["firing", "at"], name="reading_by_time")]

    def __str__(self) -> str:
        return f"{self.temperature_c:.1f} °C at {self.at:%Y-%m-%d %H:%M:%S}"


def sent_path(sent: "SentFile", filename: str) -> str:
    """Return a random name: what a file is called by its sender names nothing here."""
    return f"readings/{sent.studio_id}/{secrets.token_urlsafe(18)}"


class SentFile(StudioOwned):
    """A controller's file that was sent and whose readings are not in yet.

    A worker reads it, or its sender is asked what it does not say. It goes when its
    readings are in, when somebody takes it away, or after a week.
    """

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="+")
    file = models.FileField(upload_to=sent_path, max_length=200)
    file_name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    answers = models.JSONField(default=dict, help_text="What its sender said of it.")
    leave_out = models.PositiveIntegerField(
        default=0, help_text="How many bad lines its sender agreed to leave out."
    )
    told = models.JSONField(
        default=dict, help_text="What stopped it; empty while it is read."
    )
    source = models.ForeignKey(
        ReadingImport,
        null=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text="What a worker is bringing in.",
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta(StudioOwned.Meta):
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "sha256"], name="same_file_sent_once_per_firing"
            )
        ]

    def __str__(self) -> str:
        return self.file_name


class PushedChange(models.TextChoices):
    """What was done to readings that a logger sent."""

    REMOVED = "removed", "Remove them"
    WERE_F = "were F", "They were in °F and read as °C"
    WERE_C = "were C", "They were in °C and read as °F"


class PushedCorrection(StudioOwned):
    """Readings of one logger in one span, removed or put into the right unit."""

    firing = models.ForeignKey(
        Firing, on_delete=models.CASCADE, related_name="pushed_corrections"
    )
    logger = models.ForeignKey(
        KilnLogger, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    change = models.CharField(max_length=8, choices=PushedChange)
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    reading_count = models.PositiveIntegerField()
    at = models.DateTimeField()
    by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta(StudioOwned.Meta):
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.reading_count} readings of {self.logger}: {self.change}"
