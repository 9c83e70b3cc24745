"""Invoices and credit notes, receipts, their numbers, and how a studio is paid."""

from django.db import models
from django.db.models import Q

from commissions.invoicing import TaxCategory
from commissions.models.quote import MONEY, PERCENT
from studio.tenancy import StudioOwned


class BusinessDetails(StudioOwned):
    """What a studio's papers say of it as a business, and how it is paid."""

    name = models.CharField(
        max_length=160, blank=True, help_text="Empty: the studio's name."
    )
    address = models.TextField(blank=True, help_text="Empty: the studio's address.")
    tax_number = models.CharField(max_length=40, blank=True)
    account_holder = models.CharField(max_length=70, blank=True)
    iban = models.CharField(max_length=34, blank=True)
    bic = models.CharField(max_length=11, blank=True)
    other_ways = models.TextField(blank=True, help_text="Other ways to pay, in words.")
    payment_link = models.CharField(
        max_length=400, blank=True, help_text="The studio's own link for paying."
    )
    days_to_pay = models.PositiveSmallIntegerField(default=14)
    terms = models.TextField(blank=True)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(fields=["studio"], name="one_business_details")
        ]

    def __str__(self) -> str:
        return f"Business details of {self.studio}"


class NumberSeries(StudioOwned):
    """The last number given of one kind in one year.

    Its row is held from the number to the end of the transaction that uses it, so that
    none is given twice and none is left out.
    """

    class Name(models.TextChoices):
        """What is numbered."""

        INVOICE = "invoice", "invoices and credit notes"
        RECEIPT = "receipt", "receipts"

    name = models.CharField(max_length=8, choices=Name)
    year = models.PositiveSmallIntegerField()
    last = models.PositiveIntegerField(default=0)

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "name", "year"], name="one_series_a_year"
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.year}: {self.last}"


class InvoiceKind(models.TextChoices):
    """What is asked for."""

    DEPOSIT = "deposit", "Deposit"
    STAGE = "stage", "Stage payment"
    BALANCE = "balance", "Balance"
    ADDENDUM = "addendum", "Addendum"
    OTHER = "other", "Other work"
    KILN = "kiln", "Kiln rental"
    CREDIT = "credit", "Credit note"


class Invoice(StudioOwned):
    """A draft, an invoice, or a credit note, whose amounts lower what it corrects.

    Issuing freezes it: number, day, amounts, lines and every text of its paper. What was
    wrong is corrected by a credit note.
    """

    client = models.ForeignKey(
        "commissions.Client", on_delete=models.PROTECT, related_name="invoices"
    )
    commission = models.ForeignKey(
        "commissions.Commission",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="invoices",
    )
    instalment = models.ForeignKey(
        "commissions.Instalment",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="invoices",
    )
    kiln_user = models.ForeignKey(
        "studio.KilnUser",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="invoices",
        help_text="Whose use of the kilns it is for.",
    )
    kiln_month = models.DateField(
        null=True, blank=True, help_text="The first day of the month it is for."
    )
    corrects = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="credit_notes",
        help_text="The invoice that this credit note corrects.",
    )
    kind = models.CharField(max_length=8, choices=InvoiceKind)
    year = models.PositiveSmallIntegerField(null=True, blank=True)
    serial = models.PositiveIntegerField(null=True, blank=True)
    number = models.CharField(
        max_length=20, blank=True, help_text="Empty: a draft, that nobody was sent."
    )
    title = models.CharField(max_length=200)
    message = models.TextField(blank=True)
    currency = models.CharField(max_length=3)
    net = models.DecimalField(**MONEY)
    tax = models.DecimalField(**MONEY)
    rounding = models.DecimalField(default=0, **MONEY)
    total = models.DecimalField(
        help_text="To pay, with tax and rounding; of a credit note, taken off.", **MONEY
    )
    issued_date = models.DateField(null=True, blank=True)
    due_date = models.DateField(null=True, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    sent_at = models.DateTimeField(
        null=True, blank=True, help_text="Since then the client may see it."
    )
    paper = models.JSONField(
        default=dict,
        blank=True,
        help_text="Every text of its PDF, as it was issued; its bytes are a document.",
    )

    class Meta(StudioOwned.Meta):
        ordering = ["-year", "-serial", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "year", "serial"], name="invoice_number_once"
            ),
            models.UniqueConstraint(
                fields=["instalment"],
                condition=Q(issued_at__isnull=True) & ~Q(kind="credit"),
                name="one_draft_an_instalment",
            ),
            models.CheckConstraint(
                condition=Q(
                    issued_at__isnull=True,
                    issued_date__isnull=True,
                    year__isnull=True,
                    serial__isnull=True,
                    number="",
                    sent_at__isnull=True,
                )
                | Q(
                    issued_at__isnull=False,
                    issued_date__isnull=False,
                    year__isnull=False,
                    serial__gte=1,
                )
                & ~Q(number=""),
                name="invoice_numbered_when_issued",
            ),
            models.CheckConstraint(
                # Not the other way round: an import sets it once both are there.
                condition=Q(kind="credit") | Q(corrects__isnull=True),
                name="only_credit_notes_correct",
            ),
            models.CheckConstraint(
                condition=Q(kind="credit")
                | Q(kind__in=["other", "kiln"], commission__isnull=True)
                | (~Q(kind__in=["other", "kiln"]) & Q(commission__isnull=False)),
                name="invoice_of_a_commission_or_not",
            ),
            models.CheckConstraint(
                condition=Q(kiln_user=None, kiln_month=None)
                | Q(kind="kiln", kiln_user__isnull=False, kiln_month__isnull=False),
                name="invoice_of_a_month_of_kiln_use",
            ),
            models.CheckConstraint(
                condition=Q(total__gte=0), name="invoice_total_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_credit(self) -> bool:
        return self.kind == InvoiceKind.CREDIT

    @property
    def is_draft(self) -> bool:
        return self.issued_at is None

    @property
    def name(self) -> str:
        """Return what it is called within a sentence."""
        word = "credit note" if self.is_credit else "invoice"
        return f"{word} {self.number}" if self.number else f"draft of {_a(word)}"


def _a(word: str) -> str:
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


class InvoiceLine(StudioOwned):
    """One line of an invoice, and how it is taxed."""

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="lines")
    number = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=200)
    quantity = models.DecimalField(max_digits=14, decimal_places=4)
    unit = models.CharField(max_length=20, blank=True)
    unit_price = models.DecimalField(**MONEY)
    net = models.DecimalField(**MONEY)
    tax_category = models.CharField(
        max_length=1, choices=[(one.value, one.name.lower()) for one in TaxCategory]
    )
    tax_name = models.CharField(max_length=40, blank=True)
    tax_percent = models.DecimalField(default=0, **PERCENT)

    class Meta(StudioOwned.Meta):
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["invoice", "number"], name="invoice_line_number_once"
            ),
            models.CheckConstraint(
                condition=Q(tax_percent__gte=0, tax_percent__lt=100),
                name="invoice_line_tax_sensible",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class Reminder(StudioOwned):
    """That a client was reminded of an invoice; never edited, only taken back."""

    invoice = models.ForeignKey(
        Invoice, on_delete=models.PROTECT, related_name="reminders"
    )
    sent_date = models.DateField()
    sent_to = models.CharField(
        max_length=200, help_text="An e-mail address, or how else it went."
    )
    text = models.TextField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_reason = models.CharField(max_length=200, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["sent_date", "pk"]

    def __str__(self) -> str:
        return f"Reminder of {self.invoice} on {self.sent_date}"


class Receipt(StudioOwned):
    """That a payment came in, with a number of its own."""

    payment = models.OneToOneField(
        "commissions.Payment", on_delete=models.PROTECT, related_name="receipt"
    )
    year = models.PositiveSmallIntegerField()
    serial = models.PositiveIntegerField()
    number = models.CharField(max_length=20)
    made_at = models.DateTimeField()
    paper = models.JSONField(default=dict, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-year", "-serial", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "year", "serial"], name="receipt_number_once"
            )
        ]

    def __str__(self) -> str:
        return f"receipt {self.number}"
