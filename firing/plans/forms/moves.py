"""Where to move a booking: from the page's own form, or as the ribbon's script asks."""

from datetime import UTC, datetime
from typing import Any

from django import forms

from firing.schedules.selectors.fits import kilns
from studio.fields import EARLIEST_YEAR, LATEST_YEAR, MomentField, choose_from
from studio.models import Kiln, Studio


class MoveForm(forms.Form):
    """The kiln and the start, in the studio's local time."""

    kiln: "forms.ModelChoiceField[Kiln]" = forms.ModelChoiceField(
        queryset=None, empty_label=None
    )
    starts_at = MomentField(label="It begins")

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "kiln", kilns(studio))
        zone = (
            f"By the studio's clock ({studio.time_zone}). A firing begins with loading."
        )
        self.fields["starts_at"].help_text = zone


class PlaceForm(forms.Form):
    """The kiln and the start in seconds since the epoch."""

    kiln: "forms.ModelChoiceField[Kiln]" = forms.ModelChoiceField(queryset=None)
    starts = forms.IntegerField(
        min_value=int(datetime(EARLIEST_YEAR, 1, 1, tzinfo=UTC).timestamp()),
        max_value=int(datetime(LATEST_YEAR, 1, 1, tzinfo=UTC).timestamp()),
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "kiln", kilns(studio))

    @property
    def starts_at(self) -> datetime:
        """Return the start to the full minute, as bookings have it."""
        seconds = self.cleaned_data["starts"] // 60 * 60
        return datetime.fromtimestamp(seconds, tz=UTC)
