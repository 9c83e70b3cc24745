"""Forms for the layers of a stack: another one, and another place."""

from typing import Any

from django import forms

from studio.fields import choose_from
from studio.models import Glass, Technique
from studio.selectors import stock
from studio.selectors.pieces import PieceView
from studio.stages import MOST_PASSES


class NewLayerForm(forms.Form):
    """A layer to be added, and where."""

    place = forms.IntegerField(label="Place", min_value=1)
    title = forms.CharField(label="What is on it", max_length=120, required=False)
    technique = forms.ChoiceField(
        choices=Technique.choices,
        initial=Technique.PAINTED.value,
        widget=forms.RadioSelect,
    )
    passes = forms.IntegerField(
        min_value=1,
        max_value=MOST_PASSES,
        initial=1,
        required=False,
        help_text="A clear layer has none.",
    )
    glass: "forms.ModelChoiceField[Glass]" = forms.ModelChoiceField(
        queryset=None, empty_label=None
    )

    def __init__(self, *args: Any, view: PieceView, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        clear = [one for one in view.layers if one.layer.technique == Technique.CLEAR]
        count = len(view.layers) + 1
        place = self.fields["place"]
        place.help_text = f"1 is at the back, {count} in front of the others."
        place.initial = clear[0].number if clear else count
        self.fields["glass"].initial = view.piece.glass_id
        choose_from(self, "glass", stock.glasses_in_use(view.piece.studio))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        is_clear = cleaned.get("technique") == Technique.CLEAR
        if not is_clear and "passes" in cleaned and cleaned["passes"] is None:
            self.add_error("passes", "Say how many passes it has.")
        return cleaned


class PlaceForm(forms.Form):
    """A layer's place in the stack."""

    place = forms.IntegerField(
        label="Place, counted from the back",
        min_value=1,
        error_messages={"required": "Say which place."},
    )
