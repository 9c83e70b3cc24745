"""What somebody wants to be told of, and a browser that asks for it."""

from collections.abc import Sequence
from typing import Any

from django import forms

from studio.forms.hours import ClockField
from studio.models import Topic


class WishesForm(forms.Form):
    """Which topics come by e-mail and to phones, and when nothing comes."""

    mail = forms.MultipleChoiceField(
        label="By e-mail", required=False, widget=forms.CheckboxSelectMultiple
    )
    phone = forms.MultipleChoiceField(
        label="To my phones", required=False, widget=forms.CheckboxSelectMultiple
    )
    quiet_from = ClockField(label="Quiet from", required=False)
    quiet_to = ClockField(label="Quiet to", required=False)
    is_woken = forms.BooleanField(
        label="Wake me when glass is in danger", required=False
    )
    morning_at = ClockField(label="What is to be done today, at")

    def __init__(self, *args: Any, topics: Sequence[Topic], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(one.value, one.label) for one in topics]
        for name in ("mail", "phone"):
            self.fields[name].choices = choices  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Refuse quiet hours with one end."""
        cleaned = super().clean() or self.cleaned_data
        begins, ends = cleaned.get("quiet_from"), cleaned.get("quiet_to")
        if (begins is None) != (ends is None):
            name = "quiet_to" if ends is None else "quiet_from"
            if name not in self.errors:
                self.add_error(name, "Write both hours, or neither.")
        return cleaned


class PhoneForm(forms.Form):
    """A browser's push subscription, as its own script sends it (W3C Push API)."""

    endpoint = forms.URLField(max_length=1000, assume_scheme="https")
    p256dh = forms.RegexField(r"^[\w-]{80,100}=*$")
    auth = forms.RegexField(r"^[\w-]{20,30}=*$")
    name = forms.CharField(max_length=120, required=False)
