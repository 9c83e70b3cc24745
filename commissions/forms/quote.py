"""The forms for rates and for a quote: minutes, prices, percents, dates and words."""

from dataclasses import fields
from decimal import Decimal
from typing import Any

from django import forms

from commissions.selectors.rates import QuoteChoices, RatesFrom
from studio.fields import DayField, ShownInField, hinted
from studio.money import plain_number

MOST_MINUTES = 60_000


def minutes_field(label: str, help_text: str = "") -> forms.Field:
    """Return a field of whole minutes."""
    field = forms.IntegerField(
        min_value=0, max_value=MOST_MINUTES, label=label, help_text=help_text
    )
    return hinted(field, "min")


def percent_field(
    label: str, help_text: str = "", *, highest: int = 300
) -> forms.Field:
    """Return a field of per cent, at most two decimals."""
    field = forms.DecimalField(
        min_value=0,
        max_value=highest,
        max_digits=5,
        decimal_places=2,
        label=label,
        help_text=help_text,
    )
    return hinted(field, "%")


def price_field(label: str, help_text: str = "") -> forms.DecimalField:
    """Return a field of money for one unit."""
    return forms.DecimalField(
        min_value=0,
        max_value=1_000_000,
        max_digits=14,
        decimal_places=4,
        label=label,
        help_text=help_text,
    )


class RateFields(forms.Form):
    """What the studio's rates and one quote's choices have in common."""

    painting_minutes_per_pass = minutes_field("Painting a layer, per pass")
    cutting_minutes_per_layer = minutes_field("Cutting and cleaning a layer")
    loading_minutes_per_firing = minutes_field("Loading and unloading a firing")
    assembly_minutes = minutes_field("Registration, stacking and dams")
    coldwork_minutes = minutes_field("Cold work and finish")

    labour_rate_per_hour = price_field("Hourly rate for work")
    energy_price_per_kwh = price_field("Price of a kWh")

    waste_percent = percent_field("Offcuts and breakage", "On top of the glass.")
    overhead_percent = percent_field("Overhead", "Rent, tools, paperwork.")
    remake_percent = percent_field("Risk of remake", "On all costs.")
    margin_percent = percent_field("Margin", "On all costs and the risk.")
    tax_percent = percent_field("Tax", highest=100)
    deposit_percent = percent_field("Deposit", "When accepted.", highest=100)
    stage_percent = percent_field(
        "Stage payment", "Before the stack goes into the kiln.", highest=100
    )

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("labour_rate_per_hour", "energy_price_per_kwh"):
            hinted(self.fields[name], currency)
        self.fields["shown_in"] = ShownInField(currency)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        deposit, stage = data.get("deposit_percent"), data.get("stage_percent")
        if deposit is not None and stage is not None and deposit + stage > 100:
            self.add_error(
                "stage_percent", "Deposit and stage payment together: at most 100 %."
            )
        data.pop("shown_in", None)
        return data

    @staticmethod
    def tidy(values: dict[str, Any]) -> dict[str, Any]:
        """Return stored decimals without the zeros the database pads them with."""
        return {
            name: plain_number(value) if isinstance(value, Decimal) else value
            for name, value in values.items()
        }


class RatesForm(RateFields):
    """The studio's rates, where the next quote starts."""

    tax_name = forms.CharField(
        max_length=40,
        label="Name of the tax",
        help_text="As it appears on quotes, such as VAT.",
    )
    quote_valid_days = hinted(
        forms.IntegerField(min_value=1, max_value=730, label="A quote is valid for"),
        "days",
    )
    needs_deposit = forms.BooleanField(
        required=False, label="Don't paint before the deposit is paid"
    )
    needs_stage_payment = forms.BooleanField(
        required=False, label="Don't start a fuse before the stage payment is paid"
    )


class QuoteForm(RateFields):
    """One quote: its rates, its dates and its words to the client."""

    gallery_cut_percent = percent_field(
        "Gallery's share", "Of the price before tax. 0 without a gallery.", highest=90
    )
    message = forms.CharField(
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        label="Message to the client",
    )
    promised_date = DayField(required=False, label="Promised for")
    valid_until_date = DayField(label="Valid until")
    shows_lines = forms.BooleanField(
        required=False,
        label="Show the client every line",
        help_text="Otherwise they see the work, the price, tax and payments.",
    )
    rates_from = forms.ChoiceField(
        choices=[(one, one) for one in RatesFrom],
        required=False,
        error_messages={"required": "Choose the rates of this version."},
    )

    form_key = forms.CharField(required=False, max_length=32, widget=forms.HiddenInput)

    @property
    def choices(self) -> QuoteChoices:
        """Return what was typed, as rates of the quote."""
        return QuoteChoices(
            **{f.name: self.cleaned_data[f.name] for f in fields(QuoteChoices)}
        )

    @property
    def words(self) -> dict[str, Any]:
        """Return what was typed, as dates and words, and which form it was."""
        names = (
            "message",
            "promised_date",
            "valid_until_date",
            "shows_lines",
            "form_key",
        )
        return {name: self.cleaned_data[name] for name in names}


class AddendumForm(QuoteForm):
    """An addendum: as a quote, and the prices of the change are always chosen."""

    rates_from = forms.ChoiceField(
        choices=[(one, one) for one in RatesFrom],
        error_messages={"required": "Choose the prices for the change."},
    )
