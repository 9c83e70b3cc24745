"""The form to compare a kiln's display with another thermometer."""

from typing import Any

from django import forms

from firing.models import ComparedBy, KilnComparison
from firing.physics.kiln.offset import (
    COMPARED_FROM_C,
    LEAST_ERROR_K,
    MOST_ERROR_K,
    Comparison,
    offset_of,
)
from firing.physics.schedule import PhysicsProblem
from firing.readings.forms.measured import MeasuredForm
from studio.fields import (
    DayField,
    TemperatureDifferenceField,
    TemperatureField,
)


class ComparisonForm(MeasuredForm):
    """What the kiln showed, and what was measured beside the glass."""

    kind = KilnComparison
    day_name = "compared_on"
    sure_k = (LEAST_ERROR_K, MOST_ERROR_K)

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
        label="Accurate to within",
        initial=2.0,
    )
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        show = self.viewer.temperature_difference
        self.fields["error_k"].help_text = (
            f"As its maker says: a good second thermocouple {show(2)}, cones and bars "
            f"about {show(8)}."
        )

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
