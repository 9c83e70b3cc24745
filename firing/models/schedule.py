"""Schedules: versions of a programme, each with its segments, never edited."""

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class FiringKind(models.TextChoices):
    """What a firing is for."""

    ENAMEL = "enamel", "Enamel firing"
    TACK_FUSE = "tack fuse", "Tack fuse"
    FULL_FUSE = "full fuse", "Full fuse and anneal"
    SLUMP = "slump", "Slump"
    RE_ANNEAL = "re-anneal", "Re-anneal"
    TEST = "test", "Test firing"


class ScheduleRule(models.TextChoices):
    """Where a schedule's anneal comes from."""

    NEXT_ROW = "next row", "The table's next thicker row"
    ROW = "row", "The table's row at or above the thickness"
    EXACT = "exact", "The rule of thumb at the very thickness"
    COMPUTED = "computed", "Computed from heat and stress"
    STANDARD = "standard", "The studio's standing programme"


class Schedule(StudioOwned):
    """One version of a firing's programme.

    Versions are counted for each piece and kind of firing, or, without a piece, for
    each glass in each kiln.
    """

    name = models.CharField(max_length=160)
    version = models.PositiveIntegerField(default=1)
    kind = models.CharField(max_length=16, choices=FiringKind)
    piece = models.ForeignKey(
        "studio.Piece",
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="schedules",
    )
    kiln = models.ForeignKey(
        "studio.Kiln",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        help_text="The controller whose limits it was fitted to.",
    )
    glass = models.ForeignKey("studio.Glass", on_delete=models.PROTECT)
    thickness_mm = models.FloatField()
    rule = models.CharField(max_length=16, choices=ScheduleRule)
    start_c = models.FloatField(default=20.0)
    basis = models.JSONField(
        default=dict, help_text="The numbers the computation used, by name with unit."
    )
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta(StudioOwned.Meta):
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece", "kind", "version"],
                condition=Q(piece__isnull=False),
                name="schedule_version_once_per_piece",
            ),
            models.UniqueConstraint(
                fields=["glass", "kiln", "kind", "version"],
                condition=Q(piece__isnull=True),
                name="standing_schedule_version_once",
            ),
            models.CheckConstraint(
                condition=Q(thickness_mm__gt=0, version__gte=1),
                name="schedule_numbers_positive",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, version {self.version}"


class ScheduleSegment(StudioOwned):
    """One segment: a rate, a target, a hold."""

    schedule = models.ForeignKey(
        Schedule, on_delete=models.CASCADE, related_name="segments"
    )
    number = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=60)
    rate_c_per_h = models.FloatField(
        null=True, blank=True, help_text="Empty: as fast as the kiln can."
    )
    target_c = models.FloatField()
    hold_s = models.FloatField(default=0.0)

    class Meta(StudioOwned.Meta):
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["schedule", "number"], name="segment_number_once"
            ),
            models.CheckConstraint(
                condition=Q(hold_s__gte=0)
                & (Q(rate_c_per_h__isnull=True) | Q(rate_c_per_h__gt=0)),
                name="segment_numbers_sensible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number}. {self.label}"
