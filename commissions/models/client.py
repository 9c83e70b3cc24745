"""Clients: those who commission work."""

from django.db import models

from studio.tenancy import StudioOwned


class TaxStatus(models.TextChoices):
    """Whether a client is charged tax."""

    TAXED = "taxed", "Taxed"
    EXEMPT = "exempt", "Exempt"
    RESALE = "resale", "Buys for resale"


class Client(StudioOwned):
    """Somebody who commissions work, or a gallery on their behalf."""

    name = models.CharField(max_length=160)
    email = models.EmailField("e-mail address", blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    tax_status = models.CharField(
        max_length=6, choices=TaxStatus, default=TaxStatus.TAXED
    )
    tax_number = models.CharField(max_length=40, blank=True)
    kiln_user = models.OneToOneField(
        "studio.KilnUser",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="client",
        help_text="The maker whose kiln time this client is invoiced for.",
    )
    note = models.TextField(blank=True)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name
