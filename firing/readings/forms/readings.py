"""The forms that take a controller's file and the answers about it."""

from collections.abc import Sequence
from typing import Any

from django import forms

from firing.controller_log import Question

LARGEST_FILE = 64 * 1024 * 1024


class ReadingsForm(forms.Form):
    """A file of readings."""

    file = forms.FileField(
        label="The controller's or logger's file",
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
            raise forms.ValidationError("This file has more than 64 MB. Export less.")
        return file


class AnswersForm(forms.Form):
    """A file sent before, with what its sender says about it.

    A question is shown; an answer given already is carried along unseen.
    """

    kept = forms.CharField(max_length=1000, widget=forms.HiddenInput)
    leave_out = forms.IntegerField(
        required=False, min_value=0, widget=forms.HiddenInput
    )
    unit = forms.ChoiceField(
        label="The readings are in",
        choices=[("C", "°C"), ("F", "°F")],
        required=False,
        widget=forms.HiddenInput,
    )
    date_order = forms.ChoiceField(
        label="The dates have",
        choices=[("dmy", "the day first"), ("mdy", "the month first")],
        required=False,
        widget=forms.HiddenInput,
    )
    elapsed_unit = forms.ChoiceField(
        label="The times are in",
        choices=[("s", "seconds"), ("min", "minutes"), ("h", "hours")],
        required=False,
        widget=forms.HiddenInput,
    )
    temperature_column = forms.CharField(
        label="The kiln's temperature is",
        required=False,
        max_length=200,
        widget=forms.HiddenInput,
    )

    ANSWERS = ("unit", "date_order", "elapsed_unit", "temperature_column")

    def __init__(
        self, *args: Any, questions: Sequence[Question] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for question in questions:
            self.fields[question.name] = forms.ChoiceField(
                label=self.fields[question.name].label,
                help_text=question.text,
                choices=question.choices,
                widget=forms.RadioSelect,
                initial=question.likely,
            )

    @property
    def answers(self) -> dict[str, Any]:
        """Return what was answered by question; what makes no sense was not."""
        self.is_valid()
        return {name: self.cleaned_data.get(name) or None for name in self.ANSWERS}
