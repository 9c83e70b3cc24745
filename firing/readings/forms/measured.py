"""What every form has in which a studio enters what it measured of a kiln."""

from datetime import date, datetime
from typing import Any, ClassVar

from django import forms
from django.db.models import Model

from firing.models import KilnChange, KilnComparison, KilnEvenness
from studio.fields import QuantityForm
from studio.viewer import Viewer


class MeasuredForm(QuantityForm):
    """A measurement of a day that has been, sure to within `error_k`."""

    kind: ClassVar[type[KilnChange | KilnComparison | KilnEvenness]]
    """What is kept of it."""
    day_name: ClassVar[str]
    sure_k: ClassVar[tuple[float, float]]
    """The least and the most that a measurement may be sure to within [K]."""

    def __init__(
        self, *args: Any, viewer: Viewer, now: datetime, **kwargs: Any
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.today = now.astimezone(viewer.zone).date()
        self.initial.setdefault(self.day_name, self.today)
        self.fields[self.day_name].validators.append(self._refuse_a_day_to_come)

    @classmethod
    def initial_of(cls, entry: Model) -> dict[str, Any]:
        """Return what an entry holds, by the form's fields."""
        return {name: getattr(entry, name) for name in cls.base_fields}

    def _refuse_a_day_to_come(self, day: date) -> None:
        if day > self.today:
            raise forms.ValidationError("That day is to come. Write when it was.")

    def clean_error_k(self) -> float:
        """Refuse an accuracy that no thermometer has."""
        error_k: float = self.cleaned_data["error_k"]
        least_k, most_k = self.sure_k
        if not least_k <= error_k <= most_k:
            show = self.viewer.temperature_difference
            raise forms.ValidationError(f"Write {show(least_k)} to {show(most_k)}.")
        return error_k
