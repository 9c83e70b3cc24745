"""The form of an option of a quote: the same work in another size."""

from django import forms

from commissions.forms.commission import MOST_LAYERS
from studio.fields import LengthField, QuantityForm


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
    name = forms.CharField(
        max_length=80,
        required=False,
        label="Name",
        help_text="Leave empty to name it by what differs.",
    )
