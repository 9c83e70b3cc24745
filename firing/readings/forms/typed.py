"""The form by which somebody says what they typed into the controller."""

from typing import Any

from django import forms
from django.core import signing

from firing.models import Firing
from firing.physics.formats.design_format import schedule_from_mapping
from firing.physics.schedule import Programme
from studio.fields import MomentField

SALT = "firing.typed"


def sealed(firing: Firing, option: dict[str, Any]) -> str:
    """Return an option of the judge's as its page carries it along."""
    return signing.dumps([firing.pk, option["action"], option["schedule"]], salt=SALT)


class TypedForm(forms.Form):
    """When it was typed; empty is now. What was typed comes along, sealed: by the time
    somebody says so, the page may have computed something else.
    """

    what = forms.CharField(widget=forms.HiddenInput)
    typed_at = MomentField(label="Typed at, if not just now", required=False)

    def __init__(self, *args: Any, firing: Firing, **more: Any) -> None:
        super().__init__(*args, **more)
        self.firing = firing
        zone = firing.studio.time_zone
        self.fields["typed_at"].help_text = f"By the studio's clock ({zone})."

    def clean_what(self) -> tuple[str, Programme]:
        """Return the action and the programme that the page showed."""
        try:
            firing_pk, action, schedule = signing.loads(
                self.cleaned_data["what"], salt=SALT
            )
        except signing.BadSignature as problem:
            raise forms.ValidationError(
                "What you typed did not come along. Open the page again."
            ) from problem
        if firing_pk != self.firing.pk:
            raise forms.ValidationError("That was for another firing.")
        return action, schedule_from_mapping(schedule)
