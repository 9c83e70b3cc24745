"""Refuses work that a rule of the studio wants something else before."""

from studio.errors import Refused
from studio.models import Membership, Person, Piece
from studio.roles import Can, allowed
from studio.selectors.before_work import hindrances
from studio.stages import WorkKind


def refuse_hindered(kind: WorkKind, piece: Piece, *, by: Person | None) -> None:
    """Refuse to paint or fuse before what the studio made a rule.

    Raises
    ------
    Refused
        In the words for this person: only some may see money.
    """
    found = hindrances(kind, piece, may_see_money=_may_see_money(piece, by))
    told = [one.words for one in found if one.is_rule]
    if told:
        raise Refused(" ".join(told))


def _may_see_money(piece: Piece, by: Person | None) -> bool:
    own = Membership.owned.for_studio(piece.studio).filter(person=by).first()
    return own is not None and allowed(own.role, Can.SEE_MONEY)
