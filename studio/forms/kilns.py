"""Forms for kilns, access hours and closures."""

from datetime import datetime
from typing import Any

from django import forms

from studio.fields import (
    DayField,
    DurationField,
    LengthField,
    MomentField,
    RateField,
    TemperatureDifferenceField,
    TemperatureField,
    choose_from,
)
from studio.forms.base import StudioModelForm
from studio.forms.hours import ClockField, WeekdaysField
from studio.models import Closure, Kiln
from studio.selectors import kilns

PER_CENT = 100
# The same as in the model's own constraint.
LARGEST_OFFSET_K, MOST_UNSURE_K = 60.0, 40.0
UNSURE_K = 5.0


class KilnForm(StudioModelForm):
    """A kiln. Only those who see money are asked what an hour in it costs."""

    instance: Kiln

    inner_width_mm = LengthField(label="Width inside")
    inner_depth_mm = LengthField(label="Depth inside")
    inner_height_mm = LengthField(label="Height inside")
    shelf_width_mm = LengthField(label="Usable shelf width")
    shelf_depth_mm = LengthField(label="Usable shelf depth")
    max_temperature_c = TemperatureField(label="Highest temperature")
    opening_temperature_c = TemperatureField(
        label="Opening temperature",
        initial=50.0,
        help_text="Below this it may be opened.",
    )
    power_kw = forms.FloatField(
        label="Power (kW)", min_value=0.1, max_value=500, help_text="On its name plate."
    )
    holding_per_cent = forms.FloatField(
        label="Power that holds the highest temperature (%)",
        min_value=1,
        max_value=100,
        initial=50,
        help_text="Share of full power. 50 when it was never measured.",
    )
    cooling_time_constant_s = DurationField(
        label="Cooling time",
        initial=6 * 3600.0,
        help_text="Time in which the kiln, switched off, falls to 37 % of its heat.",
    )
    offset_k = TemperatureDifferenceField(
        label="Thermocouple offset",
        initial=0.0,
        required=False,
        help_text="The temperature at the glass less what the controller shows, at the "
        "anneal soak. Minus if the kiln is colder, 0 if never compared.",
    )
    offset_uncertainty_k = TemperatureDifferenceField(
        label="Accurate to within",
        initial=5.0,
        required=False,
    )
    offset_found_on = DayField(label="Found on", required=False)
    rate_step = forms.TypedChoiceField(
        label="Rates in steps of",
        coerce=float,
        choices=[(1.0, "1 degree an hour"), (0.1, "0.1 degree an hour")],
        initial=1.0,
        help_text="What the controller takes, in its own unit.",
    )
    slowest_rate_c_per_h = RateField(label="Slowest rate", initial=1.0)
    fastest_rate_c_per_h = RateField(label="Fastest rate", initial=1000.0)

    class Meta:
        model = Kiln
        fields = [
            "name",
            "inner_width_mm",
            "inner_depth_mm",
            "inner_height_mm",
            "shelf_width_mm",
            "shelf_depth_mm",
            "max_temperature_c",
            "opening_temperature_c",
            "cooling_time_constant_s",
            "offset_k",
            "offset_uncertainty_k",
            "offset_found_on",
            "offset_how",
            "controller_unit",
            "controller_segments",
            "rate_step",
            "slowest_rate_c_per_h",
            "fastest_rate_c_per_h",
            "hourly_rate",
            "is_retired",
        ]
        labels = {
            "controller_unit": "The controller counts in",
            "controller_segments": "Segments the controller can hold",
            "offset_how": "Found how",
            "hourly_rate": "Price of a kiln hour",
            "is_retired": "Out of use",
        }
        help_texts = {
            "is_retired": "It keeps its past firings.",
            "offset_how": "Such as: second thermocouple on the shelf.",
        }

    # The two that are typed in other quantities than stored; the rest follow.
    field_order = [
        "name",
        "inner_width_mm",
        "inner_depth_mm",
        "inner_height_mm",
        "shelf_width_mm",
        "shelf_depth_mm",
        "max_temperature_c",
        "opening_temperature_c",
        "power_kw",
        "holding_per_cent",
    ]

    def __init__(self, *args: Any, instance: Kiln | None = None, **kwargs: Any) -> None:
        initial = dict(kwargs.pop("initial", None) or {})
        if instance is not None:
            initial |= {
                "power_kw": instance.power_w / 1000,
                "holding_per_cent": round(instance.holding_fraction * PER_CENT, 6),
            }
        super().__init__(*args, instance=instance, initial=initial, **kwargs)
        self.fields["offset_uncertainty_k"].help_text = (
            "How far the offset may be off, either way. "
            f"{self.viewer.temperature_difference(UNSURE_K)} if never compared."
        )
        if not self.viewer.may_see_money:
            del self.fields["hourly_rate"]

    def clean_offset_k(self) -> float:
        """Refuse an offset that no thermocouple has, and say what to do."""
        given: float | None = self.cleaned_data["offset_k"]
        value = 0.0 if given is None else given
        if abs(value) > LARGEST_OFFSET_K:
            most = self.viewer.temperature_difference(LARGEST_OFFSET_K)
            raise forms.ValidationError(
                f"A thermocouple that is more than {most} off is broken. Have it looked "
                "at."
            )
        return value

    def clean_offset_uncertainty_k(self) -> float:
        """Keep it within the range that bands allow."""
        given: float | None = self.cleaned_data["offset_uncertainty_k"]
        value = UNSURE_K if given is None else given
        if not 0 <= value <= MOST_UNSURE_K:
            most = self.viewer.temperature_difference(MOST_UNSURE_K)
            raise forms.ValidationError(f"Write how far it may be off, up to {most}.")
        return value

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if "power_kw" in cleaned:
            self.instance.power_w = cleaned["power_kw"] * 1000
        if "holding_per_cent" in cleaned:
            self.instance.holding_fraction = cleaned["holding_per_cent"] / PER_CENT
        return cleaned


class AccessHoursForm(forms.Form):
    """A span on some weekdays when kilns may be loaded."""

    weekdays = WeekdaysField()
    opens = ClockField(label="From")
    closes = ClockField(label="To")


class ClosureForm(StudioModelForm):
    """A span when a kiln, or the whole studio, is closed."""

    instance: Closure

    starts_at = MomentField(label="From")
    ends_at = MomentField(label="Until")

    class Meta:
        model = Closure
        fields = ["kiln", "starts_at", "ends_at", "reason"]
        labels = {"kiln": "What is closed", "reason": "Why"}

    def __init__(self, *args: Any, now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.now = now
        in_use = kilns.kilns(self.studio).filter(is_retired=False)
        choices = choose_from(self, "kiln", in_use)
        choices.empty_label = "The whole studio"
        choices.help_text = ""

    def clean_ends_at(self) -> datetime:
        """Refuse a closure in the past: it keeps nobody out and shows nowhere."""
        ends_at: datetime = self.cleaned_data["ends_at"]
        if ends_at <= self.now:
            raise forms.ValidationError("That is past. Choose an end that is to come.")
        return ends_at
