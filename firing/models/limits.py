"""How much tension a studio allows in its glass, if not the program's default."""

from django.db import models
from django.db.models import F, Q

from studio.tenancy import StudioOwned


class StressLimits(StudioOwned):
    """The three limits in MPa that schedules are designed by and firings judged by.

    A studio has at most one row; without one, `firing.physics.limits` applies.
    """

    temporary_mpa = models.FloatField(help_text="While heating and cooling.")
    residual_mpa = models.FloatField(help_text="What stays in the cold glass.")
    warning_mpa = models.FloatField(help_text="From here on it may have cracked.")

    class Meta(StudioOwned.Meta):
        verbose_name = "the limits of tension"
        constraints = [
            models.UniqueConstraint(fields=["studio"], name="limits_once_per_studio"),
            models.CheckConstraint(
                condition=Q(residual_mpa__gt=0)
                & Q(residual_mpa__lte=F("temporary_mpa"))
                & Q(temporary_mpa__lte=F("warning_mpa")),
                name="limits_in_order",
            ),
        ]

    def __str__(self) -> str:
        return (
            f"{self.temporary_mpa:g}, {self.residual_mpa:g} and "
            f"{self.warning_mpa:g} MPa"
        )
