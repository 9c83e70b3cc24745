"""Which layers' registration sheets, and for which face of the glass."""

from typing import Any

from django import forms

from studio.registration_papers import FACES
from studio.selectors.pieces import PieceView


class RegistrationForm(forms.Form):
    """Layers to tick, and the face that is printed or painted."""

    numbers = forms.TypedMultipleChoiceField(
        label="Sheets for",
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one."},
    )
    face = forms.ChoiceField(
        label="Printed for",
        choices=[(key, words) for key, words in FACES.items()],
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, view: PieceView, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["numbers"].choices = [  # type: ignore[attr-defined]
            (one.layer.number, str(one.layer)) for one in view.layers
        ]
