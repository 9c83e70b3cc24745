"""The form to compare a kiln's display with another thermometer."""

from datetime import date, datetime
from typing import Any

from django import forms

from firing.models import ComparedBy
from firing.physics.kiln.offset import (
    COMPARED_FROM_C,
    LEAST_ERROR_K,
    MOST_ERROR_K,
    Comparison,
    offset_of,
)
from firing.physics.schedule import PhysicsProblem
from studio.fields import (
    DayField,
    QuantityForm,
    TemperatureDifferenceField,
    TemperatureField,
)
from studio.viewer import Viewer


class ComparisonForm(QuantityForm):
    """What the kiln showed, and what was measured beside the glass."""

    compared_on = DayField(label="On")
    compared_by = forms.ChoiceField(
        label="Compared with",
        choices=ComparedBy,
        widget=forms.RadioSelect,
        initial=ComparedBy.THERMOCOUPLE,
    )
    shown_c = TemperatureField(
        label="The kiln showed",
        help_text="When both had been steady for a quarter of an hour, best in the "
        "anneal soak.",
    )
    measured_c = TemperatureField(label="Measured beside the glass")
    error_k = TemperatureDifferenceField(
        label="The measurement is sure to within",
        initial=2.0,
        help_text="As its maker says: a good second thermocouple 2 °C (4 °F), cones and "
        "bars about 8 °C (14 °F).",
    )
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(
        self, *args: Any, viewer: Viewer, now: datetime, **kwargs: Any
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.today = now.astimezone(viewer.zone).date()
        self.initial.setdefault("compared_on", self.today)

    def clean_compared_on(self) -> date:
        """Refuse a day in the future."""
        day: date = self.cleaned_data["compared_on"]
        if day > self.today:
            raise forms.ValidationError("That day is to come. Write when it was.")
        return day

    def clean_shown_c(self) -> float:
        """Refuse what is too cold to tell anything."""
        shown_c: float = self.cleaned_data["shown_c"]
        if shown_c < COMPARED_FROM_C:
            least = self.viewer.temperature(COMPARED_FROM_C)
            raise forms.ValidationError(
                f"Thermocouples agree when cold. Compare above {least}, best in the "
                "anneal soak."
            )
        return shown_c

    def clean_error_k(self) -> float:
        """Refuse an accuracy that no thermometer has."""
        error_k: float = self.cleaned_data["error_k"]
        if not LEAST_ERROR_K <= error_k <= MOST_ERROR_K:
            show = self.viewer.temperature_difference
            raise forms.ValidationError(
                f"Write {show(LEAST_ERROR_K)} to {show(MOST_ERROR_K)}."
            )
        return error_k

    def clean(self) -> dict[str, Any]:
        """Refuse a difference too large for any thermocouple."""
        found: dict[str, Any] = super().clean() or self.cleaned_data
        if {"shown_c", "measured_c", "error_k"} <= set(found):
            pair = Comparison(
                shown_c=found["shown_c"],
                measured_c=found["measured_c"],
                error_k=found["error_k"],
            )
            try:
                offset_of([pair])
            except PhysicsProblem:
                self.add_error(
                    "measured_c",
                    "That is too far from what the kiln showed. Read both again; if it "
                    "is true, have the thermocouple looked at before you fire.",
                )
        return found
