"""What the studio's forms share: a studio for each record, and its own constraints."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.fields import QuantityModelForm, ShownInField
from studio.models import Studio
from studio.money import plain_number
from studio.selectors.prices_held import price_fields
from studio.viewer import Viewer


class StudioModelForm(QuantityModelForm):
    """A form for a record of one studio; it validates and leaves saving to a service."""

    def __init__(
        self, *args: Any, studio: Studio, viewer: Viewer, **kwargs: Any
    ) -> None:
        super().__init__(*args, viewer=viewer, **kwargs)
        self.studio = studio
        if self.instance.pk is None:
            self.instance.studio = studio
        if set(price_fields(type(self.instance))) & set(self.fields):
            self.fields["shown_in"] = ShownInField(studio.currency)
        self._show_plainly()

    def _show_plainly(self) -> None:
        """Show 118.0000 as 118, and an open choice as words, not dashes."""
        for name, field in self.fields.items():
            if isinstance(field, forms.FloatField | forms.DecimalField):
                field.initial = _plain(field.initial)
                if name in self.initial:
                    self.initial[name] = _plain(self.initial[name])
            choices = getattr(field, "choices", None)
            if isinstance(field, forms.TypedChoiceField) and choices:
                field.choices = [
                    (key, words if key else "Choose one") for key, words in choices
                ]

    def clean(self) -> dict[str, Any]:
        """Leave out what only says in which currency the page was shown."""
        cleaned = super().clean() or self.cleaned_data
        cleaned.pop("shown_in", None)
        return cleaned

    def validate_unique(self) -> None:
        """Check every constraint of the model whose fields were filled in correctly.

        Django skips each constraint with a field that is not in the form, such as the
        studio: a duplicate name would come back as a database error.
        """
        super().validate_unique()
        try:
            self.instance.validate_constraints(exclude=set(self.errors))
        except ValidationError as problem:
            told = set(self.non_field_errors())
            for message in problem.messages:
                if message not in told:
                    self.add_error(None, message)

    @property
    def warnings(self) -> list[str]:
        """Return what to say of a record that may be saved all the same."""
        return []

    @property
    def changed_words(self) -> list[str]:
        """Return the labels of the fields that were changed, for the history."""
        return [
            str(self.fields[name].label or name).lower() for name in self.changed_data
        ]


def plain_decimal(value: Decimal) -> Decimal:
    """Return the same number without trailing zeros."""
    return Decimal(plain_number(value))


def _plain(value: object) -> object:
    """Return the same number without trailing zeros."""
    if isinstance(value, Decimal):
        return plain_decimal(value)
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
