"""Forms for a piece as a whole: planned, stacked, finished, lost."""

from typing import Any

from django import forms

from studio.fields import LengthField, QuantityForm, choose_from
from studio.models import Glass, Person, Piece, Studio, Technique
from studio.selectors import people, pieces, stock
from studio.viewer import Viewer

MOST_LAYERS = 60
MOST_PASSES = 9


class PieceForm(QuantityForm):
    """A piece for stock or a show, with its layers."""

    title = forms.CharField(max_length=160)
    width_mm = LengthField(label="Width", help_text="Seen from the front.")
    height_mm = LengthField(label="Height", help_text="Bottom to top.")
    glass: "forms.ModelChoiceField[Glass]" = forms.ModelChoiceField(
        queryset=None, empty_label=None
    )
    layer_count = forms.IntegerField(
        label="Layers", min_value=1, max_value=MOST_LAYERS, help_text="Caps counted in."
    )
    cap_count = forms.IntegerField(
        label="Clear caps among them",
        min_value=0,
        max_value=MOST_LAYERS,
        initial=1,
        help_text="They lie in front.",
    )
    technique = forms.ChoiceField(
        label="On the other layers",
        choices=[(t.value, t.label) for t in (Technique.PAINTED, Technique.DECAL)],
        initial=Technique.PAINTED.value,
        widget=forms.RadioSelect,
    )
    passes = forms.IntegerField(
        label="Passes for each of them",
        min_value=1,
        max_value=MOST_PASSES,
        initial=2,
        help_text="Each pass is burnt on by one enamel firing.",
    )
    is_dammed = forms.BooleanField(
        label="Fused inside a dam", required=False, initial=True
    )
    maker: "forms.ModelChoiceField[Person]" = forms.ModelChoiceField(
        queryset=None, required=False, empty_label="Nobody yet"
    )
    maquette_of: "forms.ModelChoiceField[Piece]" = forms.ModelChoiceField(
        label="Maquette of",
        queryset=None,
        required=False,
        empty_label="It is no maquette",
    )
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(
        self, *args: Any, studio: Studio, viewer: Viewer, **kwargs: Any
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        choose_from(self, "glass", stock.glasses_in_use(studio))
        choose_from(self, "maker", people.people_of(studio))
        choose_from(self, "maquette_of", pieces.piece_titles(studio))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        layers, caps = cleaned.get("layer_count"), cleaned.get("cap_count")
        if layers is not None and caps is not None and caps > layers:
            self.add_error(
                "cap_count",
                f"There are only {layers} layers. Write {layers} caps or fewer.",
            )
        return cleaned


class PieceDetailsForm(forms.Form):
    """What may be changed in a piece that is already planned."""

    title = forms.CharField(max_length=160)
    maker: "forms.ModelChoiceField[Person]" = forms.ModelChoiceField(
        queryset=None, required=False, empty_label="Nobody yet"
    )
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 4}))

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Somebody who has left stays the maker of their own pieces.
        kept = self.initial.get("maker")
        own = Person.objects.filter(pk__in=[] if kept is None else [kept])
        choose_from(self, "maker", people.people_of(studio) | own)


class StackForm(QuantityForm):
    """What was counted and measured at the stack. Nothing is filled in beforehand."""

    layers_counted = forms.IntegerField(
        label="Layers counted", min_value=1, max_value=999
    )
    measured_height_mm = LengthField(
        label="Height measured", help_text="At the middle of a side, in either unit."
    )
    is_order_right = forms.BooleanField(
        label="The order is right: 1 at the back, and every image registers",
        required=False,
    )
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))


class InspectionForm(forms.Form):
    """What was seen at the inspection of the finished piece."""

    note = forms.CharField(
        label="What you saw",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Bubbles, veils, edges, how it stands in the light.",
    )


class LossForm(forms.Form):
    """How a piece was lost."""

    note = forms.CharField(
        label="What happened",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The piece stays here with all its history.",
    )
