"""Forms for finished work: where it went, and a list for a show."""

from collections.abc import Sequence
from typing import Any

from django import forms

from studio.fields import DayField, offer
from studio.models import Whereabouts
from studio.selectors.finished import Work
from studio.selectors.whereabouts import OUT, Went, whereabouts_words
from studio.viewer import Viewer


class WorksForm(forms.Form):
    """Finished pieces to tick."""

    pieces = forms.TypedMultipleChoiceField(
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one."},
    )

    def __init__(self, *args: Any, works: Sequence[Work], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.works = works
        offer(
            self,
            "pieces",
            [
                (
                    str(one.piece.pk),
                    f"{one.piece.title} · {whereabouts_words(one.move)}",
                )
                for one in works
            ],
        )

    @property
    def chosen(self) -> list[Work]:
        """Return the works that were ticked."""
        wanted = set(self.cleaned_data["pieces"])
        return [one for one in self.works if one.piece.pk in wanted]


class MoveForm(WorksForm):
    """Where some pieces went, since when, and until when."""

    kind = forms.ChoiceField(label="Where", choices=Whereabouts)
    place = forms.CharField(
        label="Name",
        max_length=120,
        required=False,
        help_text="Of the show, the gallery, or who has it now.",
    )
    day = DayField(label="Since")
    back_on = DayField(
        label="Back on",
        required=False,
        help_text="For a show or a gallery, if a day is agreed.",
    )
    note = forms.CharField(max_length=200, required=False)

    field_order = ("kind", "place", "day", "back_on", "note", "pieces")

    def clean(self) -> dict[str, Any]:
        """Ask for the name of a place that has one."""
        cleaned = super().clean() or self.cleaned_data
        kind, day, back = (cleaned.get(one) for one in ("kind", "day", "back_on"))
        if kind in OUT and not cleaned.get("place"):
            self.add_error("place", "Write the name of the show or the gallery.")
        if back and kind and kind not in OUT:
            self.add_error("back_on", "Only a show or a gallery gives work back.")
        elif back and day and back < day:
            self.add_error("back_on", "That is before it went.")
        return cleaned

    @property
    def went(self) -> Went:
        """Return where they went."""
        data = self.cleaned_data
        return Went(
            kind=Whereabouts(data["kind"]),
            place=data["place"],
            day=data["day"],
            back_on=data["back_on"],
            note=data["note"],
        )


class ShowListForm(WorksForm):
    """Which works are on a list, under which title, and with prices or without."""

    title = forms.CharField(label="Title", max_length=120, initial="List of works")
    has_prices = forms.BooleanField(label="With prices", required=False)
    has_labels = forms.BooleanField(
        label="With a wall label for each, to cut out", required=False
    )

    field_order = ("title", "has_prices", "has_labels", "pieces")

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not viewer.may_see_money:
            del self.fields["has_prices"]
