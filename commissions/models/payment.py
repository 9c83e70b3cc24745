"""Money that came in, and money paid back."""

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class Payment(StudioOwned):
    """An amount received for a commission; never edited, only taken back.

    An amount below zero was paid back to the client.
    """

    commission = models.ForeignKey(
        "commissions.Commission", on_delete=models.PROTECT, related_name="payments"
    )
    amount = models.DecimalField(max_digits=14, decimal_places=4)
    currency = models.CharField(max_length=3)
    received_date = models.DateField()
    method = models.CharField(max_length=60, blank=True)
    note = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    from_credit = models.OneToOneField(
        "self",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="credited_to",
        help_text="The other side, where a credit of another commission was used.",
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_reason = models.CharField(max_length=200, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["received_date", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(amount=0), name="payment_amount_not_zero"
            )
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} on {self.received_date}"
