"""The form for another currency: which, at what rate, and that it is meant."""

from typing import Any

from django import forms

from studio.models import validate_currency
from studio.viewer import count_words


class CurrencyForm(forms.Form):
    """The new currency; where prices are held, also a rate and a confirmation."""

    was = forms.CharField(widget=forms.HiddenInput)
    currency = forms.CharField(
        max_length=3,
        label="New currency",
        help_text="Three letters, such as USD or EUR.",
    )
    rate = forms.DecimalField(
        max_digits=16,
        decimal_places=8,
        min_value=0,
        error_messages={"min_value": "Write a rate above zero."},
    )
    confirmed = forms.BooleanField(
        error_messages={"required": "Tick this to convert the prices."}
    )

    def __init__(self, *args: Any, was: str, count: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["was"].initial = was
        if not count:
            del self.fields["rate"], self.fields["confirmed"]
            return
        self.fields["rate"].label = f"One {was} in the new currency"
        prices = count_words(count, "price")
        self.fields["confirmed"].label = f"Convert {prices} at this rate"

    def clean_currency(self) -> str:
        """Accept the code in any case."""
        code = str(self.cleaned_data["currency"]).strip().upper()
        validate_currency(code)
        return code
