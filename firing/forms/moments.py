"""A field for an instant, typed as the studio's clock shows it."""

from datetime import datetime
from typing import Any

from django import forms

EARLIEST_YEAR, LATEST_YEAR = 2000, 2200


class MomentField(forms.DateTimeField):
    """Day and time in the studio's zone; an aware instant when cleaned."""

    def __init__(self, **more: Any) -> None:
        widget = forms.DateTimeInput(
            attrs={"type": "datetime-local", "step": "60"}, format="%Y-%m-%dT%H:%M"
        )
        more.setdefault(
            "error_messages",
            {"invalid": "Write a day and a time, such as 2026-03-04 09:00."},
        )
        super().__init__(widget=widget, **more)

    def to_python(self, value: Any) -> Any:
        try:
            moment = super().to_python(value)
        except OverflowError as problem:
            raise self._out_of_range() from problem
        if isinstance(moment, datetime) and not (
            EARLIEST_YEAR <= moment.year <= LATEST_YEAR
        ):
            raise self._out_of_range()
        return moment

    def _out_of_range(self) -> forms.ValidationError:
        return forms.ValidationError(
            f"Write a year between {EARLIEST_YEAR} and {LATEST_YEAR}."
        )
