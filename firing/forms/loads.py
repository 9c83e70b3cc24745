"""Forms that put things into a kiln: an enamel load, and the choice of a fuse."""

from collections.abc import Sequence
from typing import Any

from django import forms

from firing.forms.bookings import StartsForm
from firing.forms.stress import LimitsMixin
from firing.models import FiringKind, ScheduleRule
from firing.selectors.fits import kilns
from firing.selectors.fuses import RULE_TITLES
from firing.selectors.limits import limits_of
from firing.selectors.loads import waiting_passes
from firing.selectors.schedules import schedules
from studio.fields import RecordsField
from studio.models import Kiln, Piece, Studio


class KilnChoiceForm(forms.Form):
    """Which kiln a page is about, from its address."""

    kiln = forms.ModelChoiceField(queryset=None, required=False)

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kiln"].queryset = kilns(studio)

    @property
    def chosen(self) -> Kiln | None:
        """Return the kiln in the address, if it is one of the studio's."""
        if not self.is_valid():
            return None
        kiln: Kiln | None = self.cleaned_data["kiln"]
        return kiln


class LoadForm(StartsForm):
    """An enamel load: the kiln, the painted layers, the start."""

    kiln = forms.ModelChoiceField(
        queryset=None, error_messages={"required": "Choose a kiln."}
    )
    passes = RecordsField(
        queryset=None,
        error_messages={"required": "Choose at least one painted layer for the load."},
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, studio=studio, **kwargs)
        self.fields["kiln"].queryset = kilns(studio)
        self.fields["passes"].queryset = waiting_passes(studio)
        self.fields["passes"].error_messages["invalid_choice"] = (
            "A layer that was chosen does not wait for the kiln any more. Choose again."
        )


class FuseForm(LimitsMixin):
    """The choice of a kiln and of a rule for a piece's fuse; limits if computed."""

    kiln = forms.ModelChoiceField(
        queryset=None, error_messages={"required": "Choose a kiln."}
    )
    rule = forms.ChoiceField(
        choices=[
            *((rule.value, title) for rule, title in RULE_TITLES.items()),
            (ScheduleRule.COMPUTED.value, ScheduleRule.COMPUTED.label),
        ],
        error_messages={"required": "Choose one of the rules."},
    )
    kind = forms.ChoiceField(choices=[])

    def __init__(
        self, *args: Any, studio: Studio, kinds: Sequence[str], **kwargs: Any
    ) -> None:
        super().__init__(*args, limits=limits_of(studio), **kwargs)
        self.fields["kiln"].queryset = kilns(studio)
        self.fields["kind"].choices = [(k, FiringKind(k).label) for k in kinds]


class FuseBookForm(StartsForm):
    """The start of a fuse, by a schedule of this piece."""

    schedule = forms.ModelChoiceField(
        queryset=None,
        widget=forms.HiddenInput,
        error_messages={
            "required": "Choose a schedule first.",
            "invalid_choice": "That schedule is not one of this piece's.",
        },
    )

    def __init__(self, *args: Any, piece: Piece, **kwargs: Any) -> None:
        super().__init__(*args, studio=piece.studio, **kwargs)
        self.fields["schedule"].queryset = schedules(piece.studio).filter(piece=piece)
