"""Which calendar feed a new link opens."""

from typing import Any

from django import forms

from firing.models import FeedKind
from studio.models import Kiln, Studio
from studio.selectors.kilns import kilns


class FeedForm(forms.Form):
    """The whole studio, one's own work, or one kiln."""

    what = forms.ChoiceField(label="A link to")

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._kilns = {f"kiln {one.pk}": one for one in kilns(studio)}
        self.fields["what"].choices = [  # type: ignore[attr-defined]
            (FeedKind.STUDIO.value, FeedKind.STUDIO.label),
            (FeedKind.PERSON.value, FeedKind.PERSON.label),
            *((key, one.name) for key, one in self._kilns.items()),
        ]

    @property
    def chosen(self) -> tuple[str, Kiln | None]:
        """Return the kind of feed, and the kiln if it is about one."""
        kiln = self._kilns.get(self.cleaned_data["what"])
        return (FeedKind.KILN if kiln else self.cleaned_data["what"]), kiln
