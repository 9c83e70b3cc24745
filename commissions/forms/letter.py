"""The form of a letter to a client."""

from typing import Any

from django import forms


class LetterForm(forms.Form):
    """To whom, about what, and the maker's own words."""

    to = forms.EmailField(label="To", max_length=254)
    subject = forms.CharField(max_length=200)
    text = forms.CharField(
        label="Letter", max_length=8000, widget=forms.Textarea(attrs={"rows": 12})
    )
    has_paper = forms.BooleanField(label="Attach the PDF", required=False)

    def __init__(self, *args: Any, paper: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if paper:
            self.fields["has_paper"].label = f"Attach “{paper}”"
        else:
            del self.fields["has_paper"]
