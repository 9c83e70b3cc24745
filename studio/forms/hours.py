"""Fields for hours that repeat every week."""

from typing import Any

from django import forms

from studio.models import Weekday


class ClockField(forms.TimeField):
    """A time of day, with the browser's own control where it has one."""

    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")


class WeekdaysField(forms.TypedMultipleChoiceField):
    """One or several weekdays to tick."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, **more: Any) -> None:
        super().__init__(
            label="Days",
            choices=Weekday.choices,
            coerce=int,
            error_messages={"required": "Tick at least one day."},
            **more,
        )
