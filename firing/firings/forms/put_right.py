"""Forms that put a firing right: when it was started, how a thing came out."""

from datetime import datetime
from typing import Any

from django import forms

from studio.fields import MomentField, UndoForm
from studio.models import Outcome


class StartForm(forms.Form):
    """When the controller was started; empty is now."""

    started_at = MomentField(label="Started at", required=False)


class StartedForm(UndoForm):
    """When it really was started, and once it is late why that changes."""

    started_at = MomentField(label="Started at")

    field_order = ("started_at", "reason")

    def __init__(self, *args: Any, started_at: datetime, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("started_at", started_at)


class OutcomeForm(UndoForm):
    """How a thing really came out, and once it is late why that changes."""

    outcome = forms.ChoiceField(
        label="How it came out",
        choices=Outcome.choices,
        widget=forms.RadioSelect,
        error_messages={
            "required": "Say how it came out: fine, fire again, or cracked."
        },
    )
    note = forms.CharField(max_length=1000, required=False)

    field_order = ("outcome", "note", "reason")
