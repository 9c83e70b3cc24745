"""Finished work: what its record says beside its making, and where it went."""

from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from studio.tenancy import StudioOwned


class PieceRecord(StudioOwned):
    """What a piece's record says that its making does not: measured, seen, advised."""

    piece = models.OneToOneField(
        "studio.Piece", on_delete=models.CASCADE, related_name="record"
    )
    edition = models.CharField(max_length=40, blank=True, help_text="Such as 2 of 5.")
    width_mm = models.FloatField(null=True, blank=True)
    height_mm = models.FloatField(null=True, blank=True)
    thickness_mm = models.FloatField(null=True, blank=True)
    weight_kg = models.FloatField(null=True, blank=True)
    cold_work = models.TextField(blank=True)
    seen = models.TextField(
        blank=True, help_text="What was seen between crossed polarisers."
    )
    seen_nm_cm = models.FloatField(null=True, blank=True)
    seen_picture = models.ForeignKey(
        "studio.Picture",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="seen_in",
    )
    hanging = models.TextField(blank=True)
    care = models.TextField(blank=True)
    value = models.DecimalField(
        max_digits=14,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="What it is offered or insured for, in the studio's currency.",
    )
    changed_at = models.DateTimeField()

    class Meta(StudioOwned.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(value__isnull=True) | Q(value__gte=Decimal(0)),
                name="piece_value_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"Record of {self.piece}"


class Whereabouts(models.TextChoices):
    """Where a finished piece can be."""

    STUDIO = "studio", "In the studio"
    SHOW = "show", "At a show"
    GALLERY = "gallery", "On consignment with a gallery"
    SOLD = "sold", "Sold"
    GIVEN = "given", "Given away"


class PieceMove(StudioOwned):
    """A finished piece went somewhere; never changed, only taken back.

    The last one that stands says where it is.
    """

    piece = models.ForeignKey(
        "studio.Piece", on_delete=models.CASCADE, related_name="moves"
    )
    kind = models.CharField(max_length=8, choices=Whereabouts)
    place = models.CharField(max_length=120, blank=True)
    day = models.DateField()
    back_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
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
        ordering = ["day", "at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(back_on__isnull=True) | Q(back_on__gte=F("day")),
                name="piece_back_after_it_went",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece}: {self.get_kind_display().lower()}"
