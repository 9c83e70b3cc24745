"""The form for how each thing in a load came out."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from firing.loads.selectors.firings import piece_of
from firing.models import LoadItem
from studio.models import Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishRow:
    """The fields of one load item, bound."""

    item: LoadItem
    title: str
    piece_title: str
    outcome: forms.BoundField
    note: forms.BoundField
    picture: forms.BoundField


class FinishForm(forms.Form):
    """Outcome, note and picture for each item of a load; "all fine" covers the rest."""

    def __init__(self, *args: Any, items: Sequence[LoadItem], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.items = items
        self.is_all_fine = bool(self.data.get("all_fine"))
        for item in items:
            self.fields[f"outcome_{item.pk}"] = forms.ChoiceField(
                label=f"How {item} came out",
                choices=Outcome.choices,
                widget=forms.RadioSelect,
                required=not self.is_all_fine,
                error_messages={
                    "required": "Say how it came out: fine, fire again, or cracked."
                },
            )
            self.fields[f"note_{item.pk}"] = forms.CharField(
                label=f"Note on {item}",
                required=False,
                max_length=1000,
                widget=forms.TextInput,
            )
            self.fields[f"picture_{item.pk}"] = forms.FileField(
                label=f"Picture of {item}",
                required=False,
                widget=forms.ClearableFileInput(attrs={"accept": "image/*"}),
            )

    @property
    def rows(self) -> list[FinishRow]:
        """Return the fields item by item, for the page."""
        return [
            FinishRow(
                item=item,
                title=str(item),
                piece_title=str(piece_of(item) or ""),
                outcome=self[f"outcome_{item.pk}"],
                note=self[f"note_{item.pk}"],
                picture=self[f"picture_{item.pk}"],
            )
            for item in self.items
        ]

    @property
    def outcomes(self) -> dict[int, tuple[str, str]]:
        """Return the outcomes by load item; one left empty is fine."""
        found = self.cleaned_data
        return {
            item.pk: (
                found[f"outcome_{item.pk}"] or Outcome.FINE.value,
                found[f"note_{item.pk}"],
            )
            for item in self.items
        }

    @property
    def uploads(self) -> dict[int, Any]:
        """Return the uploaded pictures, by load item."""
        sent = ((item.pk, f"picture_{item.pk}") for item in self.items)
        return {
            pk: self.cleaned_data[name] for pk, name in sent if self.cleaned_data[name]
        }
