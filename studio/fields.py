"""Form fields for what is typed in the reader's units and stored in ours.

Quantities take either unit, keep what was typed and give SI. Instants are typed in the
studio's local time and give UTC. A form with quantities extends `QuantityForm` and gets
the viewer, whose units apply to a number without one.
"""

from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, TypeVar

from django import forms
from django.db.models import Model, QuerySet

from studio import units
from studio.money import minor_units
from studio.units import LengthUnit, TemperatureUnit, UnitProblem
from studio.viewer import Viewer

if TYPE_CHECKING:  # Django's form classes take no type arguments at run time.
    from studio.tenancy import StudioOwned

    _RecordsField = forms.ModelMultipleChoiceField[Model]
    _StudioModelForm = forms.ModelForm[StudioOwned]
else:
    _RecordsField = forms.ModelMultipleChoiceField
    _StudioModelForm = forms.ModelForm

KG_M3_OF_WATER = 1000
# Of money before the decimal point, as many as the columns hold.
WHOLE_DIGITS = 10
# Glass is 2.2 to 6; outside of these a number was meant in another unit.
LIGHTEST, HEAVIEST = 0.5, 10.0

_Record = TypeVar("_Record", bound=Model)


class QuantityField(forms.CharField):
    """A text field that gives a number in SI units."""

    parse: Callable[[str], float]
    show: Callable[[float], str]
    stored: object = None
    """The number kept so far. Its text left as it was shown means that very number:
    60 mm is shown as 2 3/8 in, which read again would be 60.325 mm."""

    def set_viewer(self, viewer: Viewer) -> None:
        """Use the units of the person who types."""
        raise TypeError("Use a field for a certain quantity.")

    def prepare_value(self, value: object) -> object:
        """Show a stored number in the reader's units; leave typed text alone."""
        return self.show(value) if isinstance(value, (int, float)) else value

    def clean(self, value: object) -> float | None:
        text = super().clean(value)
        if not text:
            return None
        if isinstance(self.stored, (int, float)) and text == self.show(self.stored):
            return self.stored
        try:
            return self.parse(text)
        except UnitProblem as problem:
            raise forms.ValidationError(str(problem)) from problem

    def has_changed(self, initial: object, data: object) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


class LengthField(QuantityField):
    """A length: `60 mm`, `2 3/8 in`, `2.36"`; millimetres when cleaned."""

    def set_viewer(self, viewer: Viewer) -> None:
        unit = LengthUnit(viewer.length_unit)
        self.parse = lambda text: units.parse_length_mm(text, unit)
        self.show = lambda mm: units.format_length(mm, unit)


class WeightField(QuantityField):
    """A weight: `3.2 kg`, `1 lb 9 oz`; kilograms when cleaned."""

    def set_viewer(self, viewer: Viewer) -> None:
        unit = LengthUnit(viewer.length_unit)
        self.parse = lambda text: units.parse_weight_kg(text, unit)
        self.show = lambda kg: units.format_weight(kg, unit)


class TemperatureField(QuantityField):
    """A temperature: `1500 °F`, `815 C`; degrees Celsius when cleaned."""

    def set_viewer(self, viewer: Viewer) -> None:
        unit = TemperatureUnit(viewer.temperature_unit)
        self.parse = lambda text: units.parse_temperature_c(text, unit)
        self.show = lambda celsius: units.format_temperature(celsius, unit)


class TemperatureDifferenceField(QuantityField):
    """A difference: `5 °C`, `-9 °F`; degrees Celsius (equal to kelvins) when cleaned."""

    def set_viewer(self, viewer: Viewer) -> None:
        unit = TemperatureUnit(viewer.temperature_unit)
        self.parse = lambda text: units.parse_temperature_difference_c(text, unit)
        self.show = lambda celsius: units.format_temperature_difference(celsius, unit)


class RateField(QuantityField):
    """A rate: `27 °F/h`; degrees Celsius per hour when cleaned."""

    def set_viewer(self, viewer: Viewer) -> None:
        unit = TemperatureUnit(viewer.temperature_unit)
        self.parse = lambda text: units.parse_rate_c_per_h(text, unit)
        self.show = lambda c_per_h: units.format_rate(c_per_h, unit)


class DurationField(QuantityField):
    """A span: `2 h`, `90 min`, `1:30`; seconds when cleaned."""

    def set_viewer(self, viewer: Viewer) -> None:
        self.parse = units.parse_duration_s
        self.show = units.format_duration


class SpecificGravityField(QuantityField):
    """A density as a multiple of water's, for any reader; kg/m³ when cleaned."""

    def set_viewer(self, viewer: Viewer) -> None:
        self.show = lambda kg_m3: f"{kg_m3 / KG_M3_OF_WATER:.6g}"
        self.parse = self._read

    def _read(self, text: str) -> float:
        try:
            times = float(text.replace(",", "."))
        except ValueError:
            times = 0.0
        if not LIGHTEST <= times <= HEAVIEST:
            raise UnitProblem(
                "Write the weight compared with water's, such as 2.5 for window glass."
            )
        return times * KG_M3_OF_WATER


def hinted(field: forms.Field, unit: str) -> forms.Field:
    """Give a field the unit to show behind its control."""
    field.unit_hint = unit  # type: ignore[attr-defined] # our own, for the template
    return field


class MoneyField(forms.DecimalField):
    """An amount of money, no finer than its currency's smallest coin."""

    def __init__(self, currency: str, *, label: str) -> None:
        decimals = minor_units(currency)
        super().__init__(
            max_digits=WHOLE_DIGITS + decimals, decimal_places=decimals, label=label
        )
        hinted(self, currency)
        self.error_messages["invalid"] = (
            f"Write an amount, such as {1250 if decimals == 0 else 1250.5:.{decimals}f}."
        )
        if decimals == 0:
            self.error_messages["max_decimal_places"] = (
                f"{currency} has no decimals. Write a whole amount."
            )


class ShownInField(forms.CharField):
    """The currency that a form with prices was shown in; another one by now is refused.

    A page that was open while the studio's currency changed would else save its prices
    as the new currency's. Shown again, it is in the new one.
    """

    widget = forms.HiddenInput

    def __init__(self, currency: str) -> None:
        super().__init__(label="Currency", required=False, initial=currency)
        self.currency = currency

    def validate(self, value: str) -> None:
        if value and value != self.currency:
            raise forms.ValidationError(
                f"Prices are in {self.currency} by now, and these were typed in "
                f"{value[:3]}. Look at each of them, then save again."
            )

    def bound_data(self, data: object, initial: object) -> object:
        return initial

    def has_changed(self, initial: object, data: object) -> bool:
        return False


EARLIEST_YEAR, LATEST_YEAR = 2000, 2200


def _out_of_range() -> forms.ValidationError:
    return forms.ValidationError(
        f"Write a year between {EARLIEST_YEAR} and {LATEST_YEAR}."
    )


class DayField(forms.DateField):
    """A day, in the browser's own date control: ISO dates in and out."""

    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

    def to_python(self, value: str | datetime | date | None) -> date | None:
        day = super().to_python(value)
        if day is not None and not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
            raise _out_of_range()
        return day


class MomentField(forms.DateTimeField):
    """Day and time in the studio's local time; in UTC when cleaned.

    In the studio's own zone Python would add hours by the wall clock: a firing over the
    night when clocks change would be an hour too short or too long.
    """

    def __init__(self, **more: Any) -> None:
        widget = forms.DateTimeInput(
            attrs={"type": "datetime-local", "step": "60"}, format="%Y-%m-%dT%H:%M"
        )
        more.setdefault(
            "error_messages",
            {"invalid": "Write a day and a time, such as 2026-03-04 09:00."},
        )
        super().__init__(widget=widget, **more)

    def to_python(self, value: str | datetime | date | None) -> datetime | None:
        try:
            moment = super().to_python(value)
        except OverflowError as problem:
            raise _out_of_range() from problem
        except forms.ValidationError as problem:
            if problem.code == "ambiguous_timezone":
                raise forms.ValidationError(
                    "Clocks change in that hour, so it is missing or comes twice. "
                    "Write a time an hour earlier or later."
                ) from problem
            raise
        if not isinstance(moment, datetime):
            return moment
        if not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
            raise _out_of_range()
        return moment.astimezone(UTC)


class RecordsField(_RecordsField):
    """Several records; a number larger than any key is an invalid choice, not a fault."""

    def clean(self, value: object) -> QuerySet[Model]:
        try:
            return super().clean(value)
        except OverflowError as problem:
            raise forms.ValidationError(
                self.error_messages["invalid_choice"] % {"value": "That"}
            ) from problem


class QuantityFormMixin:
    """Hands the viewer to the form's quantity fields."""

    fields: dict[str, forms.Field]
    get_initial_for_field: Callable[[forms.Field, str], object]

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.viewer = viewer
        for name, field in self.fields.items():
            if isinstance(field, QuantityField):
                field.set_viewer(viewer)
                field.stored = self.get_initial_for_field(field, name)


class QuantityForm(QuantityFormMixin, forms.Form):
    """A form with quantities."""


class QuantityModelForm(QuantityFormMixin, _StudioModelForm):
    """A model form with quantities; the model's own checks run as well."""


def choose_from(
    form: forms.BaseForm, name: str, records: QuerySet[_Record]
) -> "forms.ModelChoiceField[_Record]":
    """Let a form's field offer these records; return the field."""
    field = form.fields[name]
    if not isinstance(field, forms.ModelChoiceField):
        raise TypeError(f"The field {name} offers no records.")
    field.queryset = records
    return field


def offer(form: forms.BaseForm, name: str, choices: Iterable[tuple[str, str]]) -> None:
    """Let a form's field offer these choices, each a key and its words."""
    field = form.fields[name]
    if not isinstance(field, forms.ChoiceField):
        raise TypeError(f"The field {name} offers no choices.")
    field.choices = list(choices)


class UndoForm(forms.Form):
    """Why a recorded fact was wrong; it must be said once that is late."""

    reason = forms.CharField(
        label="Why",
        max_length=200,
        required=False,
        error_messages={"required": "Say why: this was recorded a while ago."},
    )

    def __init__(self, *args: Any, needs_reason: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = needs_reason
