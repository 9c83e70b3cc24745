"""The form of a client's details."""

from django import forms

from commissions.models import TaxStatus


class ClientForm(forms.Form):
    """Who the client is and how to reach them."""

    name = forms.CharField(max_length=160)
    email = forms.EmailField(required=False, label="E-mail address", max_length=254)
    phone = forms.CharField(max_length=40, required=False, label="Telephone")
    address = forms.CharField(
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="As it stands on quotes and invoices.",
    )
    tax_status = forms.ChoiceField(
        choices=TaxStatus.choices, initial=TaxStatus.TAXED, label="Tax"
    )
    tax_number = forms.CharField(max_length=40, required=False, label="Tax number")
    note = forms.CharField(
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For the studio only; the client never sees it.",
    )
