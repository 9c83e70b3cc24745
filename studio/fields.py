"""Form fields for quantities: take either unit, keep what was typed, give SI.

A form that has such fields extends `QuantityForm` and is made with the reader, whose
units a bare number takes and the first value is shown in.
"""

from collections.abc import Callable
from typing import Any

from django import forms

from studio import units
from studio.reader import Reader
from studio.units import LengthUnit, TemperatureUnit, UnitProblem


class QuantityField(forms.CharField):
    """Text that becomes a number of SI units."""

    parse: Callable[[str], float]
    show: Callable[[float], str]
    stored: Any = None
    """The number kept so far. Its text left as it was shown means that very number:
    60 mm is shown as 2 3/8 in, which read again would be 60.325 mm."""

    def set_reader(self, reader: Reader) -> None:
        """Take the units of the person who types."""
        raise TypeError("Use a field for a certain quantity.")

    def prepare_value(self, value: Any) -> Any:
        """Show a stored number in the reader's units; leave typed text alone."""
        return self.show(value) if isinstance(value, (int, float)) else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        if isinstance(self.stored, (int, float)) and text == self.show(self.stored):
            return self.stored
        try:
            return self.parse(text)
        except UnitProblem as problem:
            raise forms.ValidationError(str(problem)) from problem

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


class LengthField(QuantityField):
    """A length: `60 mm`, `2 3/8 in`, `2.36"`; millimetres when cleaned."""

    def set_reader(self, reader: Reader) -> None:
        unit = LengthUnit(reader.length_unit)
        self.parse = lambda text: units.parse_length_mm(text, unit)
        self.show = lambda mm: units.format_length(mm, unit)


class TemperatureField(QuantityField):
    """A temperature: `1500 °F`, `815 C`; degrees Celsius when cleaned."""

    def set_reader(self, reader: Reader) -> None:
        unit = TemperatureUnit(reader.temperature_unit)
        self.parse = lambda text: units.parse_temperature_c(text, unit)
        self.show = lambda celsius: units.format_temperature(celsius, unit)


class RateField(QuantityField):
    """A rate: `27 °F/h`; degrees Celsius per hour when cleaned."""

    def set_reader(self, reader: Reader) -> None:
        unit = TemperatureUnit(reader.temperature_unit)
        self.parse = lambda text: units.parse_rate_c_per_h(text, unit)
        self.show = lambda c_per_h: units.format_rate(c_per_h, unit)


class DurationField(QuantityField):
    """A span: `2 h`, `90 min`, `1:30`; seconds when cleaned."""

    def set_reader(self, reader: Reader) -> None:
        self.parse = units.parse_duration_s
        self.show = units.format_duration


class QuantityFormMixin:
    """Hands the reader to the form's quantity fields."""

    fields: dict[str, forms.Field]
    get_initial_for_field: Callable[[forms.Field, str], Any]

    def __init__(self, *args: Any, reader: Reader, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.reader = reader
        for name, field in self.fields.items():
            if isinstance(field, QuantityField):
                field.set_reader(reader)
                field.stored = self.get_initial_for_field(field, name)


class QuantityForm(QuantityFormMixin, forms.Form):
    """A form with quantities."""


class QuantityModelForm(QuantityFormMixin, forms.ModelForm):  # type: ignore[type-arg]
    """A model form with quantities; the model's own checks run as well."""
