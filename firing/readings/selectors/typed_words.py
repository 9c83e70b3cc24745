"""What was typed while a firing ran, in a maker's words."""

from dataclasses import dataclass
from datetime import datetime

from firing.models import Firing, TypedProgramme
from firing.physics.judging.what_next import Action
from firing.readings.selectors.verdict_words import ACTION_WORDS
from firing.schedules.selectors.tables import SegmentRow, programme_rows
from firing.schedules.selectors.typed import programme_typed, typed_in
from studio.viewer import Viewer


def action_words(typed: TypedProgramme) -> str:
    """Return what was done by typing a programme."""
    return ACTION_WORDS[Action(typed.action)]


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedWords:
    """One programme that was typed instead of the rest of the schedule."""

    pk: int
    when: str
    title: str
    recorded: str
    rows: tuple[SegmentRow, ...]


def typed_words(
    firing: Firing, *, viewer: Viewer, now: datetime
) -> tuple[TypedWords, ...]:
    """Return what was typed and stands, in order of time."""
    found = []
    for one in typed_in(firing):
        by = f" by {one.made_by}" if one.made_by else ""
        title = action_words(one)
        found.append(
            TypedWords(
                pk=one.pk,
                when=viewer.moment(one.at, now),
                title=title[:1].lower() + title[1:],
                recorded=f"Recorded {viewer.moment(one.made_at, now)}{by}.",
                rows=tuple(programme_rows(programme_typed(one), firing.kiln, viewer)),
            )
        )
    return tuple(found)
