"""The form with which somebody says that they saw to an event."""

from django import forms


class SeenToForm(forms.Form):
    """What was done about it, if there is anything to say."""

    note = forms.CharField(
        label="What did you do?",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For instance: breaker reset at 2:20, typed the hold.",
    )
