"""The form for how even a kiln is: one temperature in the middle, one at the edge."""

from typing import Any

from django import forms

from firing.models import KilnEvenness
from firing.physics.kiln.evenness import (
    LEAST_ERROR_K,
    MEASURED_FROM_C,
    MOST_ERROR_K,
)
from firing.physics.slab.input import MOST_EDGE_K
from firing.readings.forms.measured import MeasuredForm
from studio.fields import (
    DayField,
    LengthField,
    RateField,
    TemperatureDifferenceField,
    TemperatureField,
)
from studio.models import Kiln

NEAREST_MM, FURTHEST_MM = 30.0, 3000.0
HOTTEST_C, FASTEST_C_PER_H = 1000.0, 300.0


class EvennessForm(MeasuredForm):
    """What was measured in the middle of the shelf and towards its edge."""

    kind = KilnEvenness
    day_name = "measured_on"
    sure_k = (LEAST_ERROR_K, MOST_ERROR_K)

    measured_on = DayField(label="On")
    middle_c = TemperatureField(
        label="Middle of the shelf",
        help_text="Read both within a minute, best in the anneal soak.",
    )
    edge_c = TemperatureField(label="Towards the edge")
    reach_mm = LengthField(label="Distance between them")
    error_k = TemperatureDifferenceField(
        label="Difference accurate to within",
        initial=1.0,
    )
    falls_c_per_h = RateField(
        label="The kiln was cooling at",
        required=False,
        help_text="Leave empty if it was holding.",
    )
    note = forms.CharField(label="Note", required=False, max_length=200)

    def __init__(self, *args: Any, kiln: Kiln, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("reach_mm", kiln.shelf_width_mm / 2)
        show = self.viewer.temperature_difference
        self.fields[
            "error_k"
        ].help_text = (
            f"Two thermocouples that agreed side by side: {show(1)}. Cones: {show(8)}."
        )

    def clean_middle_c(self) -> float:
        """Refuse what is too cold to tell anything."""
        middle_c: float = self.cleaned_data["middle_c"]
        if not MEASURED_FROM_C <= middle_c <= HOTTEST_C:
            show = self.viewer.temperature
            raise forms.ValidationError(
                f"Measure between {show(MEASURED_FROM_C)} and {show(HOTTEST_C)}, best "
                "in the anneal soak."
            )
        return middle_c

    def clean_reach_mm(self) -> float:
        """Refuse places too close to tell them apart."""
        reach_mm: float = self.cleaned_data["reach_mm"]
        if not NEAREST_MM <= reach_mm <= FURTHEST_MM:
            show = self.viewer.length
            raise forms.ValidationError(
                f"Write {show(NEAREST_MM)} to {show(FURTHEST_MM)}."
            )
        return reach_mm

    def clean_falls_c_per_h(self) -> float:
        """Read nothing as holding, and refuse what no anneal does."""
        rate = float(self.cleaned_data["falls_c_per_h"] or 0.0)
        if not 0 <= rate <= FASTEST_C_PER_H:
            most = self.viewer.rate(FASTEST_C_PER_H)
            raise forms.ValidationError(f"Write 0 to {most}.")
        return rate

    def clean(self) -> dict[str, Any]:
        """Refuse a difference that no kiln has."""
        found: dict[str, Any] = super().clean() or self.cleaned_data
        is_read = {"middle_c", "edge_c"} <= set(found)
        if is_read and abs(found["edge_c"] - found["middle_c"]) > MOST_EDGE_K:
            most = self.viewer.temperature_difference(MOST_EDGE_K)
            self.add_error(
                "edge_c",
                f"That is more than {most} from the middle. Read both again; if it is "
                "true, have the kiln looked at before you fire.",
            )
        return found
