"""Forms for a person's hours at the bench, their skills and their days away."""

from datetime import date
from typing import Any

from django import forms

from studio.fields import DayField, hinted
from studio.forms.hours import ClockField, WeekdaysField
from studio.models import AwayReason
from studio.models.bench import MOST_HOURS_A_WEEK

BY_ROLE, OWN = "role", "own"
SKILLS = (
    ("paint", "Painting"),
    ("assemble", "Stacking, with dams"),
    ("coldwork", "Cold work"),
)


class BenchHoursForm(forms.Form):
    """A span on some weekdays when somebody works by hand."""

    weekdays = WeekdaysField()
    starts = ClockField(label="From")
    ends = ClockField(label="To")


class WeeklyLimitForm(forms.Form):
    """The most hours of work by hand in a week."""

    hours_a_week = hinted(
        forms.IntegerField(
            label="At most in a week",
            required=False,
            min_value=1,
            max_value=MOST_HOURS_A_WEEK,
            help_text="Empty: as many as the hours above.",
            error_messages={
                "invalid": "Write a whole number of hours, or leave it empty."
            },
        ),
        "h",
    )


class SkillsForm(forms.Form):
    """What somebody can do by hand."""

    follows = forms.ChoiceField(
        label="Set by",
        choices=[(BY_ROLE, "Their part in the studio"), (OWN, "What is ticked below")],
        widget=forms.RadioSelect,
    )
    skills = forms.MultipleChoiceField(
        label="Can do",
        choices=SKILLS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="A piece is painted and stacked by one person, so whoever is to make "
        "pieces needs both.",
    )

    @property
    def terms(self) -> dict[str, bool]:
        """Return the values for the service."""
        ticked = set(self.cleaned_data["skills"])
        return {
            "by_role": self.cleaned_data["follows"] == BY_ROLE,
            **{name: name in ticked for name, _ in SKILLS},
        }


class DaysAwayForm(forms.Form):
    """Whole days when somebody is away."""

    starts_date = DayField(label="First day")
    ends_date = DayField(
        label="Last day", required=False, help_text="Empty: that one day."
    )
    reason = forms.ChoiceField(
        label="Why", choices=AwayReason.choices, initial=AwayReason.HOLIDAY.value
    )
    note = forms.CharField(
        max_length=160,
        required=False,
        help_text="For yourself and those who plan; nobody else reads it.",
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        first = data.get("starts_date")
        if first is not None and "ends_date" not in self.errors:
            data["ends_date"] = data.get("ends_date") or first
            if first <= data["ends_date"] < self.today:
                self.add_error(
                    "ends_date", "That is over. Choose a last day from today on."
                )
        return data
