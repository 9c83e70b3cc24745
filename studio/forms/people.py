"""Forms for the studio itself, its people, and each person's own units."""

from typing import TYPE_CHECKING, Any

from django import forms

from studio.models import Membership, Role, Studio

if TYPE_CHECKING:  # Django's form classes take no type arguments at run time.
    _MembershipForm = forms.ModelForm[Membership]
    _StudioForm = forms.ModelForm[Studio]
else:
    _MembershipForm = _StudioForm = forms.ModelForm


class UnitsForm(_MembershipForm):
    """The units in which one member reads and types."""

    class Meta:
        model = Membership
        fields = ["temperature_unit", "length_unit"]
        labels = {"temperature_unit": "Temperatures", "length_unit": "Lengths"}
        widgets = {
            "temperature_unit": forms.RadioSelect,
            "length_unit": forms.RadioSelect,
        }


class StudioForm(_StudioForm):
    """The studio's own details."""

    class Meta:
        model = Studio
        fields = [
            "name",
            "address",
            "email",
            "time_zone",
            "temperature_unit",
            "length_unit",
            "paper_size",
        ]
        labels = {
            "email": "E-mail address",
            "temperature_unit": "Temperatures on papers",
            "length_unit": "Lengths on papers",
            "paper_size": "Paper",
        }
        help_texts = {
            "address": "As it stands on quotes.",
            "email": "On your clients' pages, so that they can write to you.",
            "time_zone": "Such as Europe/Lisbon or America/New_York.",
        }
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}

    @property
    def changed_words(self) -> list[str]:
        """Return the labels of the fields that were changed, for the history."""
        return [
            str(self.fields[name].label or name).lower() for name in self.changed_data
        ]


class MemberForm(forms.Form):
    """A member's role, and whether they may sign in."""

    role = forms.ChoiceField(label="Role", choices=Role.choices)
    is_active = forms.BooleanField(label="May sign in to this studio", required=False)


class DeleteStudioForm(forms.Form):
    """The studio's name, typed to confirm its deletion."""

    name = forms.CharField(max_length=120)

    def __init__(self, *args: Any, name: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].label = f"Type “{name}”"
        self.fields["name"].widget.attrs["autocomplete"] = "off"
