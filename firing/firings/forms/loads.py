"""Forms that put things into a kiln: an enamel load, and the kiln for a fuse."""

from typing import Any

from django import forms

from firing.kiln_time.forms.bookings import StartsForm, choose_whose, whose_field
from firing.loads.selectors.loads import waiting_passes
from firing.loads.selectors.saved_schedules import piece_choices
from firing.models import Schedule
from firing.schedules.selectors.fits import kilns
from firing.schedules.selectors.schedules import schedules
from studio.fields import RecordsField, choose_from
from studio.models import Kiln, Piece, Studio
from studio.selectors.pieces import pieces

MOST_THINGS = 20
LONGEST_THING = 160


class KilnChoiceForm(forms.Form):
    """The kiln that a page is about, from its address."""

    kiln: "forms.ModelChoiceField[Kiln]" = forms.ModelChoiceField(
        queryset=None, required=False
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "kiln", kilns(studio))

    @property
    def chosen(self) -> Kiln | None:
        """Return the kiln in the address, if it is one of the studio's."""
        if not self.is_valid():
            return None
        kiln: Kiln | None = self.cleaned_data["kiln"]
        return kiln


class LoadForm(StartsForm):
    """An enamel load: the kiln, the painted layers, the start."""

    kiln: "forms.ModelChoiceField[Kiln]" = forms.ModelChoiceField(
        queryset=None, error_messages={"required": "Choose a kiln."}
    )
    passes = RecordsField(
        queryset=None,
        error_messages={"required": "Choose at least one painted layer for the load."},
    )
    schedule: "forms.ModelChoiceField[Schedule]" = forms.ModelChoiceField(
        queryset=None,
        required=False,
        error_messages={
            "invalid_choice": "That schedule is none of this studio's. Choose another."
        },
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, studio=studio, **kwargs)
        choose_from(self, "kiln", kilns(studio))
        choose_from(self, "passes", waiting_passes(studio))
        choose_from(self, "schedule", schedules(studio))
        self.fields["passes"].error_messages["invalid_choice"] = (
            "A layer that was chosen does not wait for the kiln any more. Choose again."
        )


class WorkForm(StartsForm):
    """The start of a saved schedule, and what goes in: a piece, or other work in words."""

    piece: "forms.ModelChoiceField[Piece]" = forms.ModelChoiceField(
        queryset=None,
        required=False,
        empty_label="None of the studio's pieces",
        error_messages={
            "invalid_choice": "That piece cannot be fired by this schedule now. Choose "
            "another, or write what goes in."
        },
    )
    things = forms.CharField(
        label="Other work, in words",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Test tiles, another maker's work: one line for each thing that is "
        "looked at afterwards.",
    )

    kiln_user = whose_field("Whose work", "The studio's own")

    field_order = ["starts_at", "piece", "things", "kiln_user"]

    def __init__(self, *args: Any, schedule: Schedule, **kwargs: Any) -> None:
        super().__init__(*args, studio=schedule.studio, **kwargs)
        choose_whose(self, schedule.studio)
        choices = piece_choices(schedule)
        fitting = pieces(schedule.studio).filter(pk__in=[one.pk for one, _ in choices])
        words = dict(choices)
        field = choose_from(self, "piece", fitting)
        # Django's way to subclass the field would need the words before the form.
        field.label_from_instance = words.__getitem__  # type: ignore[assignment]
        if not choices:
            del self.fields["piece"]
            self.fields["things"].label = "What goes in, in words"
            self.fields["things"].required = True
            self.fields["things"].error_messages["required"] = "Say what goes in."

    def clean_things(self) -> list[str]:
        """Return the lines, each no longer than a thing's name may be."""
        lines = [line.strip() for line in self.cleaned_data["things"].splitlines()]
        named = [line for line in lines if line]
        if len(named) > MOST_THINGS:
            raise forms.ValidationError(f"Write at most {MOST_THINGS} lines.")
        if any(len(line) > LONGEST_THING for line in named):
            raise forms.ValidationError(f"A line has at most {LONGEST_THING} letters.")
        return named

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if {"piece", "things"} & set(self.errors):
            return cleaned
        piece, things = cleaned.get("piece"), cleaned.get("things")
        if piece and things:
            self.add_error(
                "things",
                "A piece is fired alone: leave this empty, or choose no piece.",
            )
        elif not piece and not things:
            self.add_error("things", "Say what goes in.")
        if piece and cleaned.get("kiln_user"):
            self.add_error("kiln_user", "A piece is its maker's. Leave this as it was.")
        return cleaned


class FuseBookForm(StartsForm):
    """The start of a fuse by a schedule of this piece."""

    schedule: "forms.ModelChoiceField[Schedule]" = forms.ModelChoiceField(
        queryset=None,
        widget=forms.HiddenInput,
        error_messages={
            "required": "Choose a schedule first.",
            "invalid_choice": "That schedule is not one of this piece's.",
        },
    )

    def __init__(self, *args: Any, piece: Piece, **kwargs: Any) -> None:
        super().__init__(*args, studio=piece.studio, **kwargs)
        choose_from(self, "schedule", schedules(piece.studio).filter(piece=piece))
