"""Answers to a quote: the client's own, and one that a member heard of."""

from typing import Any

from django import forms

from studio.fields import DayField


class AcceptForm(forms.Form):
    """A name, a tick, and which quote is meant."""

    quote = forms.IntegerField(widget=forms.HiddenInput)
    name = forms.CharField(
        max_length=160,
        label="Your name",
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    accepts = forms.BooleanField(error_messages={"required": "Tick this to accept."})

    def __init__(self, *args: Any, is_addendum: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        what = "addendum" if is_addendum else "quote"
        self.fields["accepts"].label = f"I accept this {what}"


class AcceptanceForm(forms.Form):
    """An acceptance that was given in another way than on the client's page."""

    name = forms.CharField(max_length=160, label="Who accepted")
    day = DayField(label="On")
    how = forms.CharField(
        max_length=200, label="How", help_text="For instance: by letter, on the phone."
    )


class DeclineForm(forms.Form):
    """A reason, if the client wants to give one, and which quote is meant."""

    quote = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        max_length=400,
        required=False,
        label="What should be different",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
