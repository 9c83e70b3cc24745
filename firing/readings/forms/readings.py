"""The form that takes a controller's file, and asks only what the file does not say."""

import base64
import binascii
import zlib
from collections.abc import Sequence
from typing import Any

from django import forms

LARGEST_FILE = 64 * 1024 * 1024
# A file with open questions is kept in the page itself, up to this many characters.
LARGEST_KEPT = 6 * 1024 * 1024


class ReadingsForm(forms.Form):
    """A file of readings, or the one sent before, with the answers about it."""

    file = forms.FileField(
        label="The controller's or logger's file",
        error_messages={"required": "Choose the file that the controller wrote."},
        help_text="CSV or text: times and temperatures, in °C or °F.",
        widget=forms.ClearableFileInput(
            attrs={"accept": ".csv,.txt,.tsv,.log,text/csv,text/plain"}
        ),
    )
    unit = forms.ChoiceField(
        label="The readings are in",
        choices=[("C", "°C"), ("F", "°F")],
        widget=forms.RadioSelect,
        required=False,
    )
    date_order = forms.ChoiceField(
        label="Dates such as 03/04 have",
        choices=[("dmy", "the day first"), ("mdy", "the month first")],
        widget=forms.RadioSelect,
        required=False,
    )
    elapsed_unit = forms.ChoiceField(
        label="The times are in",
        choices=[("s", "seconds"), ("min", "minutes"), ("h", "hours")],
        widget=forms.RadioSelect,
        required=False,
    )
    temperature_column = forms.CharField(
        label="Column of the temperature",
        required=False,
        max_length=80,
        help_text="Its name, or its number counted from 1. Only if there are several.",
    )
    kept_name = forms.CharField(
        required=False, max_length=200, widget=forms.HiddenInput
    )
    kept_data = forms.CharField(
        required=False, max_length=LARGEST_KEPT, widget=forms.HiddenInput
    )

    QUESTIONS = ("unit", "date_order", "elapsed_unit")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asked: list[str] = [n for n in self.QUESTIONS if self.data.get(n)]
        self.asks_column = bool(self.data.get("temperature_column"))
        self.fields["file"].required = not self.data.get("kept_data")

    def ask(self, names: Sequence[str]) -> None:
        """Show these questions too; without any, ask for the column."""
        self.asked += [name for name in names if name not in self.asked]
        self.asks_column = self.asks_column or not names
        for name in self.asked:
            self.fields[name].required = True

    @property
    def shown(self) -> list[forms.BoundField]:
        """Return the fields that the page shows: the file, and any questions."""
        names = ["file", *self.asked]
        if self.asks_column:
            names.append("temperature_column")
        return [self[name] for name in names]

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or self.cleaned_data
        upload = found.get("file")
        if upload is not None:
            if upload.size > LARGEST_FILE:
                self.add_error("file", "This file has more than 64 MB. Export less.")
                return found
            found["data"], found["name"] = upload.read(), upload.name
        elif found.get("kept_data"):
            found["data"] = _unpacked(found["kept_data"])
            found["name"] = found.get("kept_name") or "readings"
        if not found.get("data") and not self.errors:
            self.add_error("file", "Choose the file that the controller wrote.")
        return found

    def keep(self, data: bytes, name: str) -> None:
        """Keep a file in the page, so that nobody has to choose it again."""
        packed = base64.b85encode(zlib.compress(data, 6)).decode("ascii")
        kept = dict(self.data.items())
        is_small = len(packed) <= LARGEST_KEPT
        kept["kept_data"] = packed if is_small else ""
        kept["kept_name"] = name if is_small else ""
        self.data = kept
        self.fields["file"].required = not is_small


def _unpacked(text: str) -> bytes:
    """Return a kept file; nonsense, or more than is ever accepted, counts as no file."""
    try:
        unpacking = zlib.decompressobj()
        return unpacking.decompress(base64.b85decode(text), LARGEST_FILE)
    except (ValueError, binascii.Error, zlib.error):
        return b""
