"""Which labels of a piece, on which sheet, from which label on."""

from typing import Any

from django import forms

from studio.label_papers import WHOLE
from studio.label_sheets import STOCKS, stock_of
from studio.selectors.pieces import PieceView


class LabelForm(forms.Form):
    """Layers to tick, a sheet by its dimensions, and the first free label on it."""

    numbers = forms.TypedMultipleChoiceField(
        label="Labels for",
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one."},
    )
    stock = forms.ChoiceField(
        label="Sheet", choices=[(one.key, one.title) for one in STOCKS]
    )
    first = forms.IntegerField(
        label="Begin at label",
        min_value=1,
        help_text="For a sheet that is partly used; counted row by row.",
        error_messages={"invalid": "Write a whole number."},
    )

    def __init__(self, *args: Any, view: PieceView, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["numbers"].choices = [  # type: ignore[attr-defined]
            (WHOLE, "The piece"),
            *((one.layer.number, str(one.layer)) for one in view.layers),
        ]

    def clean(self) -> dict[str, Any]:
        """Refuse a label that the sheet does not have."""
        cleaned = super().clean() or self.cleaned_data
        stock = stock_of(cleaned.get("stock", ""))
        first = cleaned.get("first")
        if stock is not None and first is not None and first > stock.per_page:
            self.add_error("first", f"This sheet has {stock.per_page} labels.")
        return cleaned
