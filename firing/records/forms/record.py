"""The form of what a piece's record says beside its making."""

from typing import Any

from django import forms
from django.core.validators import MinValueValidator

from firing.records.selectors.record import USUAL_CARE
from studio.fields import (
    LengthField,
    MoneyField,
    QuantityForm,
    ShownInField,
    WeightField,
    hinted,
)
from studio.models import PieceRecord
from studio.money import round_money
from studio.services.finished import CALLED
from studio.viewer import Viewer

# Window glass quenched in air shows some thousands; nobody reads more by eye.
MOST_NM_CM = 5000


def _text(rows: int = 3, **more: Any) -> forms.CharField:
    return forms.CharField(
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": rows}),
        **more,
    )


class RecordForm(QuantityForm):
    """Measured, weighed, seen, and how to keep it."""

    width_mm = LengthField(label="Width, measured", required=False)
    height_mm = LengthField(label="Height, measured", required=False)
    thickness_mm = LengthField(label="Thickness, measured", required=False)
    weight_kg = WeightField(label="Weight", required=False)
    edition = forms.CharField(
        max_length=40, required=False, help_text="Such as 2 of 5, or Unique."
    )
    cold_work = _text(label="Cold work", help_text="Ground, polished, drilled, signed.")
    seen = _text(label="Seen between crossed polarisers")
    seen_nm_cm = forms.FloatField(
        label="Retardation",
        min_value=0,
        max_value=MOST_NM_CM,
        required=False,
        help_text="What the polariscope reads in nm, divided by the way of the light "
        "through the glass in cm.",
    )
    picture = forms.FileField(
        label="Picture between crossed polarisers",
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*"}),
    )
    hanging = _text(help_text="Fixings, what they carry, which wall.")
    care = _text()

    def __init__(
        self, *args: Any, record: PieceRecord, viewer: Viewer, **kwargs: Any
    ) -> None:
        names = [*CALLED, "value"]
        initial = {name: getattr(record, name) for name in names}
        if record._state.adding:
            initial["care"] = USUAL_CARE
        if record.value is not None:
            initial["value"] = round_money(record.value, viewer.currency)
        if record.seen_nm_cm is not None:
            initial["seen_nm_cm"] = f"{record.seen_nm_cm:g}"
        super().__init__(*args, viewer=viewer, initial=initial, **kwargs)
        hinted(self.fields["seen_nm_cm"], "nm/cm")
        if viewer.may_see_money:
            value = MoneyField(viewer.currency, label="Value")
            value.required = False
            value.validators.append(MinValueValidator(0))
            value.help_text = "What it is offered or insured for."
            self.fields["value"] = value
            self.fields["shown_in"] = ShownInField(viewer.currency)

    @property
    def told(self) -> dict[str, object]:
        """Return what the record is to say."""
        kept = set(CALLED) | {"value"}
        return {name: to for name, to in self.cleaned_data.items() if name in kept}
