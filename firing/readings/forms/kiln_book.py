"""Forms for what was changed in a kiln, and what is done to it now and then."""

from django import forms

from firing.models import ChangedPart, KilnChange, UpkeepCount
from firing.readings.forms.measured import MeasuredForm
from studio.fields import DayField


class DoneForm(MeasuredForm):
    """When something was done to a kiln."""

    kind = KilnChange
    day_name = "changed_on"

    changed_on = DayField(label="On")
    note = forms.CharField(label="Note", required=False, max_length=200)


class ChangeForm(DoneForm):
    """Which part was changed, and when."""

    part = forms.ChoiceField(
        label="Changed", choices=ChangedPart, widget=forms.RadioSelect
    )
    field_order = ("part", "changed_on", "note")


class UpkeepForm(MeasuredForm):
    """What is to be done, and after how much use or time."""

    day_name = "since"

    what = forms.CharField(
        label="What is to be done",
        max_length=80,
        help_text="Such as Look at the elements, or New kiln wash.",
    )
    every = forms.IntegerField(label="Every", min_value=1, max_value=10_000)
    counted = forms.ChoiceField(label="Counted in", choices=UpkeepCount)
    since = DayField(label="Last done on")
