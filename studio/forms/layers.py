"""Forms for layers: recording painting, making one again, its title."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.forms import BoundField
from django.http import QueryDict

from studio.fields import (
    DurationField,
    QuantityForm,
    RecordsField,
    choose_from,
    offer,
)
from studio.models import Glass, Layer, Pass, Studio
from studio.selectors import stock
from studio.selectors.pieces import LayerView
from studio.viewer import Viewer

SECONDS_PER_MINUTE = 60
LONGEST_PAINTING_S = 24 * 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class PaintingRow:
    """One waiting layer in the form: its tile."""

    layer: LayerView
    pass_pk: str
    is_ticked: bool
    picture: BoundField
    src: str


class PaintingForm(QuantityForm):
    """Which of a piece's waiting passes were painted, and a picture of each.

    `pictures` are the addresses of the layers' newest ones, by their keys.
    """

    passes = forms.MultipleChoiceField(
        label="Layers painted",
        error_messages={"required": "Tick at least one layer that was painted."},
    )
    time_each = DurationField(
        label="Time for each layer",
        required=False,
        help_text="For instance 45 min or 1 h 30.",
    )
    materials = RecordsField(
        label="Painted with",
        queryset=None,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    note = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(
        self,
        *args: Any,
        layers: Sequence[LayerView],
        pictures: Mapping[int, str],
        studio: Studio,
        viewer: Viewer,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.shown = pictures
        self.waiting = {
            str(one.pass_to_paint.pk): one
            for one in layers
            if one.pass_to_paint is not None
        }
        offer(
            self, "passes", [(pk, str(one.layer)) for pk, one in self.waiting.items()]
        )
        self.fields["passes"].error_messages["invalid_choice"] = (
            "One of these layers is no longer waiting: somebody recorded it meanwhile. "
            "Look at the list again."
        )
        choose_from(self, "materials", stock.paints(studio))
        for pk, one in self.waiting.items():
            self.fields[f"picture_{pk}"] = forms.FileField(
                label=f"Photograph layer {one.number}",
                required=False,
                # The service judges pictures, so that a bad one never stops the rest.
                allow_empty_file=True,
            )

    def clean_time_each(self) -> float | None:
        """Refuse more than a day: that is the wrong unit."""
        seconds: float | None = self.cleaned_data["time_each"]
        if seconds is not None and seconds > LONGEST_PAINTING_S:
            raise forms.ValidationError(
                "That is more than a day for one layer. Write for instance 45 min."
            )
        return seconds

    @property
    def rows(self) -> list[PaintingRow]:
        """Return the waiting layers, front one first, like the edge view."""
        ticked = set(self["passes"].value() or [])
        return [
            PaintingRow(
                layer=one,
                pass_pk=pk,
                is_ticked=pk in ticked,
                picture=self[f"picture_{pk}"],
                src=self.shown.get(one.layer.pk, ""),
            )
            for pk, one in reversed(self.waiting.items())
        ]

    @property
    def has_colours(self) -> bool:
        """Return whether the studio keeps anything to paint with."""
        return bool(self["materials"].subwidgets)

    @property
    def minutes(self) -> int | None:
        """Return the minutes for each layer."""
        seconds = self.cleaned_data["time_each"]
        return None if seconds is None else round(seconds / SECONDS_PER_MINUTE)

    @property
    def chosen(self) -> list[Pass]:
        """Return the ticked passes."""
        return [
            one.pass_to_paint
            for pk, one in self.waiting.items()
            if one.pass_to_paint is not None and pk in self.cleaned_data["passes"]
        ]

    @property
    def pictures(self) -> list[tuple[Pass, "UploadedFile[bytes]"]]:
        """Return the uploaded pictures, each with the pass it shows."""
        return [
            (one.pass_to_paint, upload)
            for pk, one in self.waiting.items()
            if one.pass_to_paint is not None
            and isinstance(upload := self.files.get(f"picture_{pk}"), UploadedFile)
        ]


class AgainForm(forms.Form):
    """Why a layer is to be made again."""

    reason = forms.CharField(
        label="Why",
        max_length=200,
        help_text="For instance: scratched while loading. The old sheet stays on record.",
    )
    # The sheet that the page showed, 0 for none: pressed twice, it is another by then.
    sheet = forms.IntegerField(required=False, widget=forms.HiddenInput)


class LayerForm(forms.Form):
    """What is on a layer, and which glass it is."""

    title = forms.CharField(
        label="What is on it",
        max_length=120,
        required=False,
        help_text="For instance: far shore, first light.",
    )
    glass: "forms.ModelChoiceField[Glass]" = forms.ModelChoiceField(
        queryset=None,
        required=False,
        empty_label=None,
        help_text="Until the layer is painted. All layers must go together.",
    )

    def __init__(
        self, data: QueryDict | None = None, *, layer: Layer, may_change_glass: bool
    ) -> None:
        initial = {"title": layer.title, "glass": layer.glass_id}
        super().__init__(data, initial=initial)
        if not may_change_glass:
            del self.fields["glass"]
            return
        in_use = stock.glasses_in_use(layer.studio)
        own = stock.glasses(layer.studio).filter(pk=layer.glass_id)
        choose_from(self, "glass", in_use | own)
