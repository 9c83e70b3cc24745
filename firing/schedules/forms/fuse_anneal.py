"""The form for how a studio anneals a fuse."""

from django import forms

from firing.models import ScheduleRule


class FuseAnnealForm(forms.Form):
    """The rule that a fuse's schedule is first offered by."""

    rule = forms.ChoiceField(
        label="Anneal for a fuse",
        widget=forms.RadioSelect,
        choices=[
            (ScheduleRule.NEXT_ROW, "Next row: one row thicker than the nearest"),
            (ScheduleRule.ROW, "Published table: the row at or above the thickness"),
            (
                ScheduleRule.COMPUTED,
                "Computed design: the fewest hours within your limits of tension",
            ),
        ],
        error_messages={
            "required": "Choose one of the three.",
            "invalid_choice": "Choose one of the three.",
        },
    )

    @property
    def chosen(self) -> ScheduleRule:
        """Return the checked rule."""
        return ScheduleRule(self.cleaned_data["rule"])
