"""The form for a reminder that went out."""

from datetime import date
from typing import Any

from django import forms

from studio.fields import DayField


class ReminderForm(forms.Form):
    """When a reminder was sent, to whom, and what it said."""

    sent_date = DayField(label="Sent on")
    sent_to = forms.CharField(
        max_length=200,
        label="Sent to",
        help_text="An e-mail address, or for instance: by post, by phone.",
    )
    text = forms.CharField(
        max_length=5000, label="What it said", widget=forms.Textarea(attrs={"rows": 9})
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_sent_date(self) -> date:
        day: date = self.cleaned_data["sent_date"]
        if day > self.today:
            raise forms.ValidationError(
                "This day is still to come. Record the reminder once it is sent."
            )
        return day
