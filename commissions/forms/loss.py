"""The form that tells a client that their piece is lost."""

from django import forms


class TellForm(forms.Form):
    """The maker's own words; nothing else reaches the client."""

    text = forms.CharField(
        max_length=4000,
        label="Message to the client",
        widget=forms.Textarea(attrs={"rows": 6}),
    )
