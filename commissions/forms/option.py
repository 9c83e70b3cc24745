"""The form of an option of a quote: the same work in another size."""

from typing import Any

from django import forms

from commissions.forms.commission import MOST_LAYERS
from studio.fields import DayField, LengthField, QuantityForm


class OptionForm(QuantityForm):
    """What is different in it, and a name of its own if it needs one."""

    width_mm = LengthField(label="Width")
    height_mm = LengthField(label="Height")
    layer_count = forms.IntegerField(
        min_value=1,
        max_value=MOST_LAYERS,
        label="Layers",
        help_text="Total, with clear caps.",
    )
    has_maquette = forms.BooleanField(required=False, label="Make a maquette first")
    promised_date = DayField(required=False, label="Promised for")
    name = forms.CharField(
        max_length=80,
        required=False,
        label="Name",
        help_text="Leave empty to name it by what differs.",
    )

    def __init__(self, *args: Any, is_promised: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not is_promised:
            del self.fields["promised_date"]
