"""The forms of invoices: lines, credit notes, refunds; and of the studio as a business."""

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from commissions.bank import is_bic, is_iban, tidy
from commissions.invoicing import LineAsked
from commissions.models import InvoiceKind
from studio.fields import DayField, MoneyField
from studio.money import plain_number

FEWEST_ROWS, SPARE_ROWS, MOST_ROWS = 3, 2, 40
UNDER = Decimal(100)


class LineForm(forms.Form):
    """One line: what, how much of it, what each costs, and its tax."""

    label = forms.CharField(max_length=200, label="What")
    quantity = forms.DecimalField(
        max_digits=10, decimal_places=4, initial=1, label="Quantity"
    )
    unit = forms.CharField(max_length=20, required=False, label="Unit")
    tax_percent = forms.DecimalField(max_digits=6, decimal_places=2, label="Tax in %")

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["unit_price"] = MoneyField(currency, label="Each")
        self.order_fields(["label", "quantity", "unit", "unit_price", "tax_percent"])

    def clean_quantity(self) -> Decimal:
        quantity: Decimal = self.cleaned_data["quantity"]
        if quantity <= 0:
            raise forms.ValidationError("Write a number above zero.")
        return quantity

    def clean_tax_percent(self) -> Decimal:
        percent: Decimal = self.cleaned_data["tax_percent"]
        if not 0 <= percent < UNDER:
            raise forms.ValidationError("Write a tax from 0 to 99.99 %.")
        return percent


class InvoiceForm(forms.Form):
    """An invoice for other work or kiln rental; its lines are forms of their own."""

    kind = forms.ChoiceField(
        choices=[
            (one.value, one.label) for one in (InvoiceKind.OTHER, InvoiceKind.KILN)
        ],
        label="For",
    )
    title = forms.CharField(
        max_length=200, label="Title", help_text="For instance: Framing and delivery."
    )
    tax_name = forms.CharField(max_length=40, required=False, label="Name of the tax")
    message = forms.CharField(
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="Message",
    )

    def __init__(
        self,
        *args: Any,
        currency: str,
        tax_percent: Decimal,
        lines: list[dict[str, Any]] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        usual = {"quantity": 1, "tax_percent": plain_number(tax_percent)}
        count = max(len(lines or ()) + SPARE_ROWS, FEWEST_ROWS)
        if self.is_bound:
            sent = str(self.data.get("rows", ""))
            asked = (
                int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 4 else 0
            )
            count = min(max(asked, 1), MOST_ROWS)
        starts = [*(lines or ()), *[usual] * count][:count]
        self.rows = [
            LineForm(
                self.data if self.is_bound else None,
                prefix=f"line{number}",
                currency=currency,
                initial=starts[number],
                use_required_attribute=False,
                empty_permitted=True,
            )
            for number in range(count)
        ]

    def is_valid(self) -> bool:
        """Check the lines too; the first that is wrong is named on top."""
        is_valid = super().is_valid()
        for number, row in enumerate(self._written(), start=1):
            row.empty_permitted = False  # Left as it was, it is read all the same.
            if not row.is_valid():
                is_valid = False
                for name, errors in row.errors.items():
                    label = row.fields[name].label
                    told = " ".join(map(str, errors))
                    self.add_error(None, f"Line {number}, {label}: {told}")
        if is_valid and not self._written():
            self.add_error(None, "Write at least one line.")
            return False
        return is_valid

    def _written(self) -> list[LineForm]:
        """Return the lines in which something was written."""
        words = ("label", "unit_price")
        return [
            row
            for row in self.rows
            if any(str(row[w].value() or "").strip() for w in words)
        ]

    @property
    def lines(self) -> list[LineAsked]:
        """Return the lines as they were written."""
        return [
            LineAsked(tax_name=self.cleaned_data["tax_name"], **row.cleaned_data)
            for row in self._written()
        ]


class DraftForm(forms.Form):
    """What may be changed of an invoice whose amounts follow from the price."""

    title = forms.CharField(max_length=200, label="Title")
    message = forms.CharField(
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="Message",
    )


class AmountForm(forms.Form):
    """An amount that goes back, or is taken off, and why."""

    reason = forms.CharField(
        max_length=200, label="Why", error_messages={"required": "Say why."}
    )

    def __init__(self, *args: Any, currency: str, label: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"] = MoneyField(currency, label=label)
        self.order_fields(["amount", "reason"])


class PeriodForm(forms.Form):
    """Which list for the bookkeeper, from and to which day."""

    what = forms.ChoiceField(
        choices=[("invoices", "Invoices"), ("payments", "Payments")], label="List"
    )
    start = DayField(label="From")
    end = DayField(label="To")

    def clean(self) -> dict[str, Any]:
        """Refuse a period that ends before it starts."""
        cleaned = super().clean() or self.cleaned_data
        start, end = cleaned.get("start"), cleaned.get("end")
        if isinstance(start, date) and isinstance(end, date) and end < start:
            self.add_error("end", "This is before the first day.")
        return cleaned


class BusinessForm(forms.Form):
    """What papers say of the studio as a business, and how it is paid."""

    name = forms.CharField(
        max_length=160,
        required=False,
        label="Name on papers",
        help_text="Leave empty for the studio’s name.",
    )
    address = forms.CharField(
        max_length=600,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Leave empty for the studio’s address.",
    )
    tax_number = forms.CharField(max_length=40, required=False, label="Tax number")
    account_holder = forms.CharField(
        max_length=70, required=False, label="Account holder"
    )
    iban = forms.CharField(max_length=50, required=False, label="IBAN")
    bic = forms.CharField(max_length=15, required=False, label="BIC")
    other_ways = forms.CharField(
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="Other ways to pay",
        help_text="For instance: account and routing number, check, cash.",
    )
    payment_link = forms.URLField(
        max_length=400,
        required=False,
        assume_scheme="https",
        label="Payment link",
    )
    days_to_pay = forms.IntegerField(
        min_value=0, max_value=365, initial=14, label="Days to pay"
    )
    terms = forms.CharField(
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        label="Terms",
    )

    def clean_iban(self) -> str:
        iban = tidy(self.cleaned_data["iban"])
        if iban and not is_iban(iban):
            raise forms.ValidationError(
                "This IBAN has a wrong digit. Compare it with your bank’s letter."
            )
        return iban

    def clean_bic(self) -> str:
        bic = tidy(self.cleaned_data["bic"])
        if bic and not is_bic(bic):
            raise forms.ValidationError("A BIC has 8 or 11 letters and digits.")
        return bic
