"""The form for how each thing in a load came out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from firing.loads.selectors.firings import piece_of
from firing.loads.selectors.known import ReadByHand
from firing.models import LoadItem
from studio.fields import QuantityForm, TemperatureField
from studio.models import Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishRow:
    """The fields of one load item, bound."""

    item: LoadItem
    title: str
    piece_title: str
    src: str
    outcome: forms.BoundField
    note: forms.BoundField
    picture: forms.BoundField


class FinishForm(QuantityForm):
    """Outcome, note and picture for each item of a load; "all fine" covers the rest.

    `pictures` are the addresses of what is known of them so far, by the items' keys.
    Of a kiln that is not known to be cold it also asks for what the kiln shows, and for
    a confirmation.
    """

    shown_c = TemperatureField(
        label="The kiln shows now",
        error_messages={"required": "Read the temperature at the kiln and enter it."},
    )
    is_confirmed = forms.BooleanField(
        label="I know that hot glass breaks by thermal shock and that it burns.",
        error_messages={"required": "Tick this, or leave the kiln closed."},
    )

    def __init__(
        self,
        *args: Any,
        items: Sequence[LoadItem],
        pictures: Mapping[int, str],
        may_be_hot: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.items = items
        self.pictures = pictures
        if not may_be_hot:
            del self.fields["shown_c"], self.fields["is_confirmed"]
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
                label=f"Photograph {item}", required=False
            )

    @property
    def rows(self) -> list[FinishRow]:
        """Return the fields item by item, for the page."""
        return [
            FinishRow(
                item=item,
                title=str(item),
                piece_title=str(piece_of(item) or ""),
                src=self.pictures.get(item.pk, ""),
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
    def hand(self) -> ReadByHand:
        """Return what was read at the kiln and confirmed, if it was asked for."""
        return ReadByHand(
            shown_c=self.cleaned_data.get("shown_c"),
            is_confirmed=self.cleaned_data.get("is_confirmed", False),
        )

    @property
    def uploads(self) -> dict[int, Any]:
        """Return the uploaded pictures, by load item."""
        sent = ((item.pk, f"picture_{item.pk}") for item in self.items)
        return {
            pk: self.cleaned_data[name] for pk, name in sent if self.cleaned_data[name]
        }
