"""Saves the re-anneal computed by the judge as a piece's next schedule."""

from datetime import datetime

from django.db import transaction

from firing.locks import lock_pieces
from firing.models import Firing, FiringKind, Schedule
from firing.physics.schedule import PhysicsProblem
from firing.readings.selectors.re_anneals import propose_re_anneal
from firing.readings.selectors.verdict_inputs import judging_of
from firing.schedules.selectors.stacks import allowed_kinds
from firing.schedules.services.schedules import keep_proposal
from studio.errors import Refused
from studio.models import Person, Piece
from studio.selectors.pieces import fresh


@transaction.atomic
def keep_re_anneal(
    *, firing: Firing, piece: Piece, by: Person | None, at: datetime
) -> Schedule:
    """Save the judge's re-anneal of a firing's piece; the same one is saved once.

    Raises
    ------
    Refused
        When the piece is not to be annealed again, when the readings were not judged or
        end in hot glass, or when the kiln was changed since.
    """
    lock_pieces([piece])
    if not firing.items.filter(piece=piece).exists():
        raise Refused(f"{piece.title} was not in this firing.")
    view = fresh(piece)
    if FiringKind.RE_ANNEAL not in allowed_kinds(view):
        raise Refused(
            f"{piece.title} cannot be annealed again now: {view.stage_words.lower()}."
        )
    judging = judging_of(firing)
    judgement = judging.judgement
    try:
        proposal = None if judgement is None else propose_re_anneal(firing, judgement)
    except PhysicsProblem as problem:
        raise Refused(
            f"{firing.kiln} cannot do that re-anneal any more: {problem} Have the "
            "readings judged again."
        ) from problem
    lacks = judging.state == "making" if judgement is None else judgement.lacks_options
    if proposal is None and lacks:
        raise Refused(
            "What can be done was not computed for these readings yet. Look at the "
            "verdict, and again in a moment."
        )
    if proposal is None:
        raise Refused(
            "The judge has no re-anneal from cold for these readings. Import them down "
            "to the opening temperature, and let them be judged."
        )
    return keep_proposal(
        proposal,
        studio=piece.studio,
        name=f"{FiringKind.RE_ANNEAL.label}: {piece.title}",
        piece=piece,
        by=by,
        at=at,
    )
