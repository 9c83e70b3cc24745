"""Django's own messages about fields, in this workshop's words: what to write.

Imported once when the app starts. It changes the wording for all forms at once; a
field's own messages stay.
"""

from typing import Any

from django import forms
from django.core import validators
from django.utils.translation import ngettext_lazy

SAID: dict[type[forms.Field], dict[str, str]] = {
    forms.Field: {"required": "Fill this in."},
    forms.ChoiceField: {"required": "Choose one."},
    forms.ModelChoiceField: {"required": "Choose one."},
    forms.ModelMultipleChoiceField: {"required": "Choose at least one."},
    forms.MultipleChoiceField: {"required": "Choose at least one."},
    forms.IntegerField: {"invalid": "Write a whole number."},
    forms.FloatField: {"invalid": "Write a number, such as 2.5."},
    forms.DecimalField: {"invalid": "Write a number, such as 2.5."},
    forms.DateField: {"invalid": "Write a day, such as 2026-03-04."},
    forms.TimeField: {"invalid": "Write a time of day, such as 09:30."},
    forms.FileField: {
        "required": "Choose a file.",
        "empty": "This file is empty. Choose another one.",
    },
}


def speak_plainly() -> None:
    """Replace Django's general messages; a second call changes nothing."""
    for kind, words in SAID.items():
        kind.default_error_messages = {**kind.default_error_messages, **words}
    validators.MinValueValidator.message = "Write %(limit_value)s or more."
    validators.MaxValueValidator.message = "Write %(limit_value)s or less."
    of_digits: dict[str, Any] = {
        "max_digits": ngettext_lazy(
            "Write at most %(max)s digit.", "Write at most %(max)s digits.", "max"
        ),
        "max_decimal_places": ngettext_lazy(
            "Write at most %(max)s decimal.", "Write at most %(max)s decimals.", "max"
        ),
        "max_whole_digits": ngettext_lazy(
            "Write at most %(max)s digit before the decimal point.",
            "Write at most %(max)s digits before the decimal point.",
            "max",
        ),
    }
    validators.DecimalValidator.messages = {
        **validators.DecimalValidator.messages,
        **of_digits,
    }
    validators.EmailValidator.message = (
        "Write an e-mail address, such as name@example.org."
    )
    validators.MaxLengthValidator.message = ngettext_lazy(
        "Write at most %(limit_value)d character; these are %(show_value)d.",
        "Write at most %(limit_value)d characters; these are %(show_value)d.",
        "limit_value",
    )


speak_plainly()
