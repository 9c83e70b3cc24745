"""Comparisons of a kiln's display with another thermometer beside the glass."""

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class ComparedBy(models.TextChoices):
    """What a kiln's display was compared with."""

    THERMOCOUPLE = "thermocouple", "A second thermocouple beside the glass"
    CONES = "cones", "Cones or bars that bend"
    OTHER = "other", "Something else"


class KilnComparison(StudioOwned):
    """What a kiln showed, and what was measured beside the glass at that moment."""

    kiln = models.ForeignKey(
        "studio.Kiln", on_delete=models.CASCADE, related_name="comparisons"
    )
    compared_on = models.DateField()
    shown_c = models.FloatField()
    measured_c = models.FloatField()
    error_k = models.FloatField(
        help_text="How far the measurement may be off, either way, in kelvin."
    )
    compared_by = models.CharField(max_length=16, choices=ComparedBy)
    note = models.CharField(max_length=200, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta(StudioOwned.Meta):
        ordering = ["-compared_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    shown_c__gte=200,
                    shown_c__lte=1700,
                    measured_c__gte=140,
                    measured_c__lte=1700,
                    error_k__gte=0.5,
                    error_k__lte=40,
                ),
                name="kiln_comparison_in_reach",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_compared_by_display()} on {self.compared_on:%-d %b %Y}"
