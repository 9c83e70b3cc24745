"""Changes of the studio's currency."""

from django.db import models

from studio.tenancy import StudioOwned


class CurrencyChange(StudioOwned):
    """One change of currency, with every price before and after it."""

    before = models.CharField(max_length=3)
    after = models.CharField(max_length=3)
    rate = models.DecimalField(
        max_digits=16,
        decimal_places=8,
        null=True,
        help_text="How much of the new currency one unit of the old was; none without prices.",
    )
    prices = models.JSONField(
        default=list, help_text="Model, key, field, price before, price after."
    )
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.before} to {self.after}"
