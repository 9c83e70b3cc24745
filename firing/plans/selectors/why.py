"""Why a piece of a plan is ready on its day, and what would bring it forward."""

from dataclasses import dataclass
from datetime import datetime

from firing.models import Plan
from firing.planning.problem.problem_tables import Facts
from firing.planning.promises.explain import explain
from firing.planning.search.replan import keep_what_can_stay
from firing.plans.selectors.ids import piece_id
from firing.plans.selectors.planning import source_of, weeks_for
from firing.plans.selectors.reasons import Reason, reasons_of, relief_words
from firing.plans.selectors.record import EMPTY, Record, plan_of, standing_record
from studio.errors import Refused
from studio.models import Studio
from studio.viewer import Viewer, day_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """The chain of waits of one piece, and the change that would help most."""

    title: str
    ready: str
    reasons: tuple[Reason, ...]
    relief: str


def why_of(
    *,
    studio: Studio,
    piece: int,
    standing: Plan | None,
    record: Record | None,
    viewer: Viewer,
    now: datetime,
) -> Why:
    """Return why a piece is ready on its day, in the standing plan or in a record.

    Raises
    ------
    Refused
        When the plan does not hold the piece.
    """
    if record is None:
        record = standing_record(standing, now) if standing is not None else EMPTY
    source = source_of(studio, now=now, weeks=weeks_for(record, now))
    own = piece_id(piece)
    if own not in source.piece_pks:
        raise Refused("This piece is in no plan: it is done, or was left out.")
    facts = Facts(source.problem)
    board = keep_what_can_stay(facts, plan_of(record, source))
    number = facts.piece_number[own]
    placed = board.placed[number]
    if placed is None:
        raise Refused("It finds no room in the kilns within the time looked at.")
    told = explain(board, number)
    artist = source.call(source.problem.pieces[number].artist)
    return Why(
        title=source.call(own),
        ready=day_words(source.calendar.date_of(placed.day)),
        reasons=tuple(reasons_of(told.steps, source, viewer)),
        relief=relief_words(told.reliefs, artist, source.calendar),
    )
