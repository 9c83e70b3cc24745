"""Forms for the time of a task: typed, or put right."""

from collections.abc import Sequence
from typing import Any

from django import forms

from studio.fields import DayField, DurationField, QuantityForm, offer
from studio.labour import Task
from studio.models import MOST_MINUTES_AT_ONCE
from studio.units import parse_duration_s
from studio.viewer import Viewer


class WorkTimeField(DurationField):
    """Time of work: `45 min`, `1 h 30`; whole minutes when cleaned."""

    def __init__(self, **more: Any) -> None:
        more.setdefault("help_text", "For instance 45 min or 1 h 30.")
        super().__init__(**more)

    def set_viewer(self, viewer: Viewer) -> None:
        self.parse = lambda text: float(round(parse_duration_s(text) / 60))
        self.show = lambda minutes: viewer.labour(int(minutes))

    def clean(self, value: object) -> int | None:
        minutes = super().clean(value)
        if minutes is None:
            return None
        if not 1 <= minutes <= MOST_MINUTES_AT_ONCE:
            raise forms.ValidationError(
                "Write a time from a minute to a day, for instance 45 min."
            )
        return int(minutes)


class MinutesForm(QuantityForm):
    """How long a timed task really took."""

    minutes = WorkTimeField(label="It took")


class TaskTimeForm(QuantityForm):
    """A task, how long it took, and when. `now_called` is the name of one that is gone."""

    task = forms.ChoiceField(label="Task")
    minutes = WorkTimeField(label="It took")
    day = DayField(label="Day")
    note = forms.CharField(max_length=160, required=False)
    reason = forms.CharField(
        label="Why is it corrected",
        max_length=200,
        error_messages={"required": "Say why: this was recorded a while ago."},
    )

    def __init__(
        self,
        *args: Any,
        tasks: Sequence[Task],
        needs_reason: bool = False,
        also: tuple[str, str] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        choices = [(one.key, one.name) for one in tasks]
        # A task that the studio has no more stays with the times it has.
        if also is not None and also[0] not in dict(choices):
            choices.append(also)
        offer(self, "task", choices)
        if not needs_reason:
            del self.fields["reason"]

    @property
    def typed(self) -> dict[str, Any]:
        """Return the values for the service."""
        return {
            name: self.cleaned_data[name] for name in ("task", "minutes", "day", "note")
        }
