"""Forms for kiln time without a firing, and for giving kiln time back."""

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.db.models import Q

from firing.models import Booking, BookingKind
from firing.schedules.selectors.fits import kilns
from studio.fields import MomentField, choose_from, hinted
from studio.models import Kiln, KilnUser, Studio
from studio.selectors.kiln_users import kiln_users

LONGEST = timedelta(days=92)


def whose_field(
    label: str, nobody: str = "Nobody in the list"
) -> "forms.ModelChoiceField[KilnUser]":
    """Return the choice of a kiln user, which `choose_whose` fills in or takes away."""
    return forms.ModelChoiceField(
        queryset=None, required=False, label=label, empty_label=nobody
    )


def choose_whose(form: forms.Form, studio: Studio, now: KilnUser | None = None) -> None:
    """Offer those who share the kilns, and who is chosen already; none: no field."""
    users = kiln_users(studio)
    kept = users.filter(Q(is_retired=False) | Q(pk=now.pk if now else None))
    if kept.exists():
        choose_from(form, "kiln_user", kept)
    else:
        del form.fields["kiln_user"]


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
    kiln_user = whose_field("Rented to")
    title = forms.CharField(
        label="In words",
        max_length=200,
        help_text="What goes in, or what is done to it. Shown in the calendar.",
    )
    starts_at = MomentField(label="From")
    ends_at = MomentField(label="Until")

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "kiln", kilns(studio))
        choose_whose(self, studio)
        zone = f"By the studio's clock ({studio.time_zone})."
        self.fields["starts_at"].help_text = zone

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or self.cleaned_data
        if found.get("kiln_user") and found.get("kind") == BookingKind.MAINTENANCE:
            self.add_error(
                "kiln_user",
                "Maintenance is nobody's. Leave this empty, or rent it out.",
            )
        starts_at, ends_at = found.get("starts_at"), found.get("ends_at")
        if starts_at and ends_at:
            if ends_at <= starts_at:
                self.add_error("ends_at", "The end must come after the start.")
            elif ends_at - starts_at > LONGEST:
                self.add_error(
                    "ends_at", "That is more than three months. Close the kiln instead."
                )
        return found


class RentedForm(forms.Form):
    """Whose a rented kiln was, and what of its time and electricity was used."""

    kiln_user = whose_field("Rented to")
    used_hours = forms.FloatField(
        label="Hours used",
        required=False,
        min_value=0,
        max_value=LONGEST.total_seconds() / 3600,
        help_text="Leave empty for all the time it was held.",
    )
    used_kwh = forms.FloatField(
        label="Electricity used",
        required=False,
        min_value=0,
        max_value=100_000,
        help_text="If you read the kiln's meter.",
    )

    def __init__(self, *args: Any, booking: Booking, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_whose(self, booking.studio, booking.kiln_user)
        hinted(self.fields["used_hours"], "h")
        hinted(self.fields["used_kwh"], "kWh")


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
