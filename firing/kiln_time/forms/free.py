"""The form for finding free kiln time."""

from datetime import timedelta
from typing import Any

from django import forms

from firing.kiln_time.selectors.free_spans import Search, Size
from firing.schedules.selectors.fits import kilns
from studio.fields import DayField, DurationField, QuantityForm, choose_from, offer
from studio.models import Kiln, Piece, Studio
from studio.selectors.pieces import PieceView, titles_in_work
from studio.viewer import Viewer

SIZE_WORDS = {
    Size.ANY: "Any kiln that fits",
    Size.LARGE: "The largest shelf",
    Size.SMALL: "The smallest shelf",
}


class FreeForm(QuantityForm):
    """How long, in which kiln, between which days."""

    lasts = DurationField(
        label="How long",
        required=False,
        help_text="5 d, 1 week, 36 h. Empty for a piece.",
    )
    kiln = forms.ChoiceField(label="Kiln", required=False)
    piece: "forms.ModelChoiceField[Piece]" = forms.ModelChoiceField(
        queryset=None, required=False, empty_label="No piece"
    )
    not_before = DayField(label="Not before", required=False)
    until = DayField(label="Done by the end of", required=False)
    only_in_hours = forms.BooleanField(
        label="Load only while the studio is open", required=False, initial=True
    )

    def __init__(self, *args: Any, studio: Studio, viewer: Viewer, **kw: Any) -> None:
        super().__init__(*args, viewer=viewer, **kw)
        self.in_use = list(kilns(studio))
        sizes = [(size.value, words) for size, words in SIZE_WORDS.items()]
        offer(self, "kiln", [*sizes, *((str(one.pk), one.name) for one in self.in_use)])
        choose_from(self, "piece", titles_in_work(studio))
        for name in ("not_before", "until"):
            self.fields[name].error_messages["invalid"] = (
                "Write a day, such as 2027-03-04."
            )

    def clean(self) -> dict[str, Any]:
        found: dict[str, Any] = super().clean() or self.cleaned_data
        if found.get("lasts") == 0:
            self.add_error("lasts", "Say how long, such as 5 d.")
        elif found.get("lasts") is None and not found.get("piece") and not self.errors:
            self.add_error("lasts", "Say how long, such as 5 d, or choose a piece.")
        for name in ("not_before", "until"):
            day = found.get(name)
            if day is not None and not 2000 <= day.year <= 2200:
                self.add_error(name, "Write a year between 2000 and 2200.")
        return found

    def search(self, view: PieceView | None) -> Search:
        """Return what to look for; `view` is the chosen piece, already read."""
        found = self.cleaned_data
        chosen = found["kiln"] or Size.ANY.value
        is_size = chosen in set(Size)
        until = found["until"]
        return Search(
            lasts_s=found["lasts"],
            kiln=None if is_size else self._kiln(chosen),
            size=Size(chosen) if is_size else Size.ANY,
            view=view,
            not_before=found["not_before"],
            before=until + timedelta(days=1) if until else None,
            only_in_hours=found["only_in_hours"],
        )

    def _kiln(self, key: str) -> Kiln | None:
        return next((kiln for kiln in self.in_use if str(kiln.pk) == key), None)
