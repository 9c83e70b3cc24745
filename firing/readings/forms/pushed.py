"""The form that puts right what a logger sent."""

from datetime import datetime, timedelta
from typing import Any

from django import forms

from firing.models import PushedChange
from studio.fields import MomentField


class PushedForm(forms.Form):
    """Which readings of a logger, and what is done to them."""

    first_at = MomentField(label="From", required=False)
    last_at = MomentField(label="To", required=False)
    change = forms.ChoiceField(
        label="Change",
        choices=PushedChange.choices,
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(
            ("required", "invalid_choice"), "Choose one of these."
        ),
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, zone: str, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["first_at"].help_text = "Empty: from the first one."
        self.fields["last_at"].help_text = f"Empty: to the last. By {zone}."

    def clean_last_at(self) -> datetime | None:
        """Return the end of the minute that was given."""
        given: datetime | None = self.cleaned_data["last_at"]
        return given and given + timedelta(seconds=59, microseconds=999_999)

    def clean(self) -> dict[str, Any]:
        """Refuse a span that ends before it begins."""
        cleaned: dict[str, Any] = super().clean() or {}
        first, last = cleaned.get("first_at"), cleaned.get("last_at")
        if first and last and last < first:
            self.add_error("last_at", "This is before the beginning.")
        return cleaned
