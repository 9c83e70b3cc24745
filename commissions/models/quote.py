"""Rates, and quotes with their versions, lines and instalments.

A quote copies every rate it used, so a sent quote stays the same when prices change.
"""

from typing import TypedDict

from django.db import models
from django.db.models import Q

from studio.tenancy import StudioOwned


class _Places(TypedDict):
    max_digits: int
    decimal_places: int


PERCENT = _Places(max_digits=5, decimal_places=2)
MONEY = _Places(max_digits=14, decimal_places=4)


class PriceBook(StudioOwned):
    """A studio's own rates, where the next quote starts.

    The rules for work by hand belong to the studio: `BenchTask`.
    """

    labour_rate_per_hour = models.DecimalField(default=35, **MONEY)
    energy_price_per_kwh = models.DecimalField(default="0.25", **MONEY)
    waste_percent = models.DecimalField(default=10, **PERCENT)
    overhead_percent = models.DecimalField(default=20, **PERCENT)
    remake_percent = models.DecimalField(default=10, **PERCENT)
    markup_percent = models.DecimalField(default=20, **PERCENT)
    rounding = models.DecimalField(
        default=0,
        help_text="Prices go up to a multiple of it; 0: as they are.",
        **MONEY,
    )
    tax_name = models.CharField(max_length=40, default="Sales tax")
    tax_percent = models.DecimalField(default=0, **PERCENT)
    second_tax_name = models.CharField(max_length=40, blank=True)
    second_tax_percent = models.DecimalField(default=0, **PERCENT)
    tax_included = models.BooleanField(
        default=False, help_text="The price asked is the one with tax."
    )
    kiln_rate_has_energy = models.BooleanField(
        default=False, help_text="The kilns' hourly rates include their electricity."
    )
    deposit_percent = models.DecimalField(default=40, **PERCENT)
    stage_percent = models.DecimalField(default=30, **PERCENT)
    quote_valid_days = models.PositiveSmallIntegerField(default=30)
    needs_deposit = models.BooleanField(
        default=False, help_text="Nothing is painted before the deposit is paid."
    )
    needs_stage_payment = models.BooleanField(
        default=False, help_text="Nothing is fused before the stage payment is paid."
    )

    class Meta(StudioOwned.Meta):
        constraints = [
            models.UniqueConstraint(fields=["studio"], name="one_price_book"),
            models.CheckConstraint(
                condition=Q(
                    labour_rate_per_hour__gte=0,
                    energy_price_per_kwh__gte=0,
                    waste_percent__gte=0,
                    overhead_percent__gte=0,
                    remake_percent__gte=0,
                    markup_percent__gte=0,
                    rounding__gte=0,
                    tax_percent__gte=0,
                    second_tax_percent__gte=0,
                    deposit_percent__gte=0,
                    stage_percent__gte=0,
                ),
                name="price_book_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"Rates of {self.studio}"


class Quote(StudioOwned):
    """One version of what a commission costs.

    One that adds to an accepted quote is its addendum: it says the whole price anew, and
    counts instead of that quote once the client accepts it.
    """

    commission = models.ForeignKey(
        "commissions.Commission", on_delete=models.PROTECT, related_name="quotes"
    )
    version = models.PositiveSmallIntegerField()
    option = models.CharField(
        max_length=1,
        blank=True,
        help_text="Its letter among the options of a version, of which one is chosen.",
    )
    option_name = models.CharField(max_length=80, blank=True)
    adds_to = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="addenda",
        help_text="The accepted quote that this is an addendum to.",
    )
    currency = models.CharField(max_length=3)
    net = models.DecimalField(**MONEY)
    tax = models.DecimalField(**MONEY)
    tax_name = models.CharField(max_length=40)
    total = models.DecimalField(**MONEY)
    to_studio = models.DecimalField(
        help_text="What the studio is paid: of a gallery's sale, its part.", **MONEY
    )
    inputs = models.JSONField(help_text="Every number that the price was made from.")
    promised_date = models.DateField(null=True, blank=True)
    promise_facts = models.JSONField(
        default=dict,
        blank=True,
        help_text="The studio's facts when the day was promised, by name.",
    )
    agreed_date = models.DateField(
        null=True,
        blank=True,
        help_text="Another day, agreed with the client after they accepted.",
    )
    agreed_at = models.DateTimeField(null=True, blank=True)
    paper = models.JSONField(
        default=dict,
        blank=True,
        help_text="Every text of its PDF, as it was sent; its bytes are a document.",
    )
    valid_until_date = models.DateField()
    message = models.TextField(blank=True, help_text="Message to the client.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    sent_at = models.DateTimeField(null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by_name = models.CharField(max_length=160, blank=True)
    accepted_how = models.CharField(
        max_length=200,
        blank=True,
        help_text="How a member heard of it; empty when accepted on the client's page.",
    )
    acceptance_recorded_at = models.DateTimeField(null=True, blank=True)
    acceptance_recorded_by = models.ForeignKey(
        "studio.Person", null=True, on_delete=models.SET_NULL, related_name="+"
    )
    declined_at = models.DateTimeField(null=True, blank=True)
    declined_reason = models.CharField(max_length=400, blank=True)

    class Meta(StudioOwned.Meta):
        ordering = ["-version", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["commission", "version", "option"], name="quote_version_once"
            ),
            models.UniqueConstraint(
                fields=["commission"],
                condition=Q(accepted_at__isnull=False, adds_to__isnull=True),
                name="one_accepted_quote_per_commission",
            ),
            models.UniqueConstraint(
                fields=["adds_to"],
                condition=Q(accepted_at__isnull=False),
                name="one_accepted_addendum_per_quote",
            ),
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True)
                | (Q(sent_at__isnull=False, declined_at__isnull=True)),
                name="quote_sent_before_accepted",
            ),
            models.CheckConstraint(
                condition=Q(net__gte=0, tax__gte=0, total__gte=0, to_studio__gte=0),
                name="quote_amounts_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.commission}, {self.name}"

    @property
    def name(self) -> str:
        """Return what it is called within a sentence; versions count both kinds."""
        kind = "quote" if self.adds_to_id is None else "addendum"
        return f"{kind} {self.version}{self.option}"

    @property
    def shows_lines(self) -> bool:
        """Return whether the client sees any line of it."""
        return any(line.is_shown for line in self.lines.all())


class QuoteLine(StudioOwned):
    """One line of a quote, with the source of its number."""

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="lines")
    number = models.PositiveSmallIntegerField()
    section = models.CharField(max_length=40)
    key = models.CharField(
        max_length=40, blank=True, help_text="Of which material, firing or task it is."
    )
    label = models.CharField(max_length=120)
    explanation = models.TextField(blank=True)
    quantity = models.DecimalField(max_digits=14, decimal_places=4)
    unit = models.CharField(max_length=20)
    unit_price = models.DecimalField(**MONEY)
    amount = models.DecimalField(**MONEY)
    is_shown = models.BooleanField(
        default=False, help_text="The client sees it; the others are one line."
    )

    class Meta(StudioOwned.Meta):
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["quote", "number"], name="quote_line_number_once"
            )
        ]

    def __str__(self) -> str:
        return self.label


class Instalment(StudioOwned):
    """A part of an accepted quote's total and when it is due."""

    class DueOn(models.TextChoices):
        """The moment that makes it due."""

        ACCEPTED = "accepted", "when the quote is accepted"
        STACKED = "stacked", "before the stack goes into the kiln"
        FINISHED = "finished", "when the piece is finished, before it leaves"

    quote = models.ForeignKey(
        Quote, on_delete=models.CASCADE, related_name="instalments"
    )
    number = models.PositiveSmallIntegerField()
    label = models.CharField(max_length=60)
    due_on = models.CharField(max_length=12, choices=DueOn)
    percent = models.DecimalField(**PERCENT)
    amount = models.DecimalField(**MONEY)

    class Meta(StudioOwned.Meta):
        ordering = ["number", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["quote", "number"], name="instalment_number_once"
            )
        ]

    def __str__(self) -> str:
        return self.label
