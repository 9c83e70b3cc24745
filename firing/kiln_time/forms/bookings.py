"""Forms for kiln time without a firing, and for giving kiln time back."""

from datetime import datetime, timedelta
from typing import Any

from django import forms

from firing.models import BookingKind
from firing.schedules.selectors.fits import kilns
from studio.fields import MomentField, choose_from
from studio.models import Kiln, Studio

LONGEST = timedelta(days=92)


class BookingForm(forms.Form):
    """A kiln rented out, or closed for work on it."""

    kiln: "forms.ModelChoiceField[Kiln]" = forms.ModelChoiceField(
        queryset=None, empty_label="Choose a kiln"
    )
    kind = forms.ChoiceField(
        label="What for",
        choices=[
            (BookingKind.RENTAL, "Rented out"),
            (BookingKind.MAINTENANCE, "Maintenance"),
        ],
        widget=forms.RadioSelect,
        initial=BookingKind.RENTAL,
    )
    title = forms.CharField(
        label="In words",
        max_length=200,
        help_text="Who has it, or what is done to it. Shown in the calendar.",
    )
    starts_at = MomentField(label="From")
    ends_at = MomentField(label="Until")

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "kiln", kilns(studio))
        zone = f"By the studio's clock ({studio.time_zone})."
        self.fields["starts_at"].help_text = zone

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or self.cleaned_data
        starts_at, ends_at = found.get("starts_at"), found.get("ends_at")
        if starts_at and ends_at:
            if ends_at <= starts_at:
                self.add_error("ends_at", "The end must come after the start.")
            elif ends_at - starts_at > LONGEST:
                self.add_error(
                    "ends_at", "That is more than three months. Close the kiln instead."
                )
        return found


class CancelForm(forms.Form):
    """Why the kiln time is given back."""

    reason = forms.CharField(label="Why", max_length=200)


class StartsForm(forms.Form):
    """When loading begins."""

    starts_at = MomentField(label="Loading begins")

    def __init__(self, *args: Any, studio: Studio, now: datetime, **kw: Any) -> None:
        super().__init__(*args, **kw)
        self.now = now
        self.fields[
            "starts_at"
        ].help_text = f"By the studio's clock ({studio.time_zone})."

    def clean_starts_at(self) -> datetime:
        """Refuse a start in the past; a few minutes allow for filling in the form."""
        starts_at: datetime = self.cleaned_data["starts_at"]
        if starts_at < self.now - timedelta(hours=1):
            raise forms.ValidationError("That is past. Choose a time that is to come.")
        return starts_at
