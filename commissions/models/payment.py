"""Money that came in, and money paid back."""

from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned

if TYPE_CHECKING:
    from commissions.models.client import Client


class Payment(StudioOwned):
    """An amount received for a commission or an invoice; never edited, only taken back.

    An amount below zero was paid back to the client.
    """

    commission = models.ForeignKey(
        "commissions.Commission",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="payments",
    )
    invoice = models.ForeignKey(
        "commissions.Invoice",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="payments",
        help_text="The invoice it is for; what is over pays for others.",
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
            ),
            models.CheckConstraint(
                condition=Q(commission__isnull=False) | Q(invoice__isnull=False),
                name="payment_is_for_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} on {self.received_date}"

    @property
    def payer(self) -> "Client":
        """Return the client that it came from, or went back to."""
        if self.invoice is not None:
            return self.invoice.client
        if self.commission is None:
            raise LookupError("A payment is for a commission or an invoice.")
        return self.commission.client

    @property
    def receipt_number(self) -> str:
        """Return its receipt's number; money paid back has none."""
        receipt = getattr(self, "receipt", None)
        return receipt.number if receipt is not None else ""
