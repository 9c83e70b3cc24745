"""The forms for other work in a load: what it is, and whose."""

from typing import Any

from django import forms

from firing.firings.forms.loads import LONGEST_THING
from firing.kiln_time.forms.bookings import choose_whose, whose_field
from studio.models import KilnUser, Studio


class WorkAddedForm(forms.Form):
    """Another thing in a load, in words."""

    description = forms.CharField(
        label="What",
        max_length=LONGEST_THING,
        error_messages={"required": "Say what goes in."},
    )
    kiln_user = whose_field("Whose work", "The studio's own")

    def __init__(
        self, *args: Any, studio: Studio, now: KilnUser | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        choose_whose(self, studio, now)


class WorkChangedForm(WorkAddedForm):
    """What a thing in a load really is and whose, or that it was not in it."""

    is_out = forms.BooleanField(label="It was not in this firing", required=False)
