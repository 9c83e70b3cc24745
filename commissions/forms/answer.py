"""The client's own forms: accept a quote, or decline it."""

from typing import Any

from django import forms


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


class DeclineForm(forms.Form):
    """A reason, if the client wants to give one, and which quote is meant."""

    quote = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        max_length=400,
        required=False,
        label="What should be different",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
