"""The forms that take a controller's file and the answers about it."""

from collections.abc import Sequence
from typing import Any

from django import forms

from firing.controller_log import LARGEST_FILE, Question


class ReadingsForm(forms.Form):
    """A file of readings."""

    file = forms.FileField(
        label="Controller or logger file",
        error_messages={
            "required": "Choose the file that the controller wrote.",
            "empty": "This file is empty. Export the firing again.",
        },
        help_text="CSV or text: times and temperatures, in °C or °F.",
        widget=forms.ClearableFileInput(
            attrs={"accept": ".csv,.txt,.tsv,.log,text/csv,text/plain"}
        ),
    )

    def clean_file(self) -> Any:
        """Refuse what is larger than any firing's log."""
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            raise forms.ValidationError(
                f"This file has more than {LARGEST_FILE // 1024**2} MB. Export one "
                "firing, or a reading every ten seconds."
            )
        return file


# What each question of a log asks, by its name.
LABELS = {
    "unit": "Unit of the temperatures",
    "date_order": "Order of the dates",
    "elapsed_unit": "Unit of the times",
    "temperature_column": "Column of the kiln's temperature",
}


class AnswersForm(forms.Form):
    """What the sender of a file says about it."""

    leave_out = forms.IntegerField(
        required=False, min_value=0, max_value=10**6, widget=forms.HiddenInput
    )

    def __init__(
        self, *args: Any, questions: Sequence[Question] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.asked = [question.name for question in questions]
        for question in questions:
            self.fields[question.name] = forms.ChoiceField(
                label=LABELS[question.name],
                help_text=question.text,
                choices=question.choices,
                widget=forms.RadioSelect,
                initial=question.likely,
                error_messages=dict.fromkeys(
                    ("required", "invalid_choice"), "Choose one of these."
                ),
            )

    @property
    def answers(self) -> dict[str, Any]:
        """Return what was answered, by question."""
        return {name: self.cleaned_data[name] for name in self.asked}
