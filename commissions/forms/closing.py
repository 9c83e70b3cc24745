"""The form that closes a commission, and says what becomes of its money."""

from decimal import Decimal
from typing import Any

from django import forms

from commissions.models import ClosedMoney
from studio.fields import hinted
from studio.money import format_money, minor_units


class CloseForm(forms.Form):
    """Why a commission is closed; where money came in, what becomes of it."""

    reason = forms.CharField(
        max_length=200,
        label="Why it is closed",
        help_text="For instance: declined, or withdrawn by the client.",
    )
    money = forms.ChoiceField(
        choices=ClosedMoney.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Say what becomes of the money that came in."},
    )
    money_reason = forms.CharField(
        max_length=200,
        label="Why",
        help_text="For instance: the deposit covers the painting already done.",
        error_messages={"required": "Say why."},
    )

    def __init__(self, *args: Any, paid: Decimal, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if paid <= 0:
            del self.fields["money"], self.fields["money_reason"]
            return
        written = format_money(paid, currency)
        self.fields["money"].label = f"The {written} that came in"
        amount = forms.DecimalField(
            required=False,
            min_value=Decimal(0),
            max_digits=14,
            decimal_places=minor_units(currency),
            label="How much goes back to the client",
            help_text=f"Empty: all {written}. The rest is kept.",
        )
        self.fields["amount"] = hinted(amount, currency)
        self.order_fields(["reason", "money", "amount", "money_reason"])
