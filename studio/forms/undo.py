"""The form for putting a recorded fact right: a reason, once it is late."""

from typing import Any

from django import forms


class UndoForm(forms.Form):
    """Why a recorded fact was wrong."""

    reason = forms.CharField(
        label="Why",
        max_length=200,
        required=False,
        error_messages={"required": "Say why: this was recorded a while ago."},
    )

    def __init__(self, *args: Any, needs_reason: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = needs_reason
