"""How even a kiln is across its shelf, as the studio measured it."""

from django.db import models
from django.db.models import F, Q

from studio.tenancy import StudioOwned


class KilnEvenness(StudioOwned):
    """What was measured in the middle of a shelf and towards its edge at one moment."""

    kiln = models.ForeignKey(
        "studio.Kiln", on_delete=models.CASCADE, related_name="evenness"
    )
    measured_on = models.DateField()
    middle_c = models.FloatField()
    edge_c = models.FloatField()
    reach_mm = models.FloatField(
        help_text="From the middle to where the edge was measured."
    )
    error_k = models.FloatField(
        help_text="How far their difference may be off, either way, in kelvin."
    )
    falls_c_per_h = models.FloatField(
        default=0.0, help_text="How fast the kiln fell meanwhile; 0 while it held."
    )
    note = models.CharField(max_length=200, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta(StudioOwned.Meta):
        ordering = ["-measured_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    middle_c__gte=300,
                    middle_c__lte=1000,
                    edge_c__gte=F("middle_c") - 60,
                    edge_c__lte=F("middle_c") + 60,
                    reach_mm__gte=30,
                    reach_mm__lte=3000,
                    error_k__gte=0.2,
                    error_k__lte=20,
                    falls_c_per_h__gte=0,
                    falls_c_per_h__lte=300,
                ),
                name="kiln_evenness_in_reach",
            )
        ]

    def __str__(self) -> str:
        return f"Evenness on {self.measured_on:%-d %b %Y}"
