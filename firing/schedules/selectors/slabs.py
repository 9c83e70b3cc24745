"""What is known about a slab in one piece before it is fired again."""

from firing.models import Firing, FiringKind, Judgement
from firing.schedules.selectors.verdict_numbers import mpa, numbers_of
from studio.models import Piece

STACKS = (FiringKind.FULL_FUSE, FiringKind.TACK_FUSE)


def last_firing(piece: Piece) -> Firing | None:
    """Return the last finished firing of a piece's slab or stack, if any."""
    found: Firing | None = (
        Firing.owned.for_studio(piece.studio)
        .filter(items__piece=piece, finished_at__isnull=False)
        .select_related("studio", "kiln", "booking", "schedule__glass")
        .order_by("-finished_at", "-pk")
        .first()
    )
    return found


def tension_in(piece: Piece, kind: str) -> float:
    """Return the highest tension of a cold slab before it is fired again [MPa].

    It matters while a slab is heated. Loose sheets are not asked for theirs; a slab
    without readings is unknown and counts as annealed: zero.
    """
    last = None if kind in STACKS else last_firing(piece)
    if last is None:
        return 0.0
    judgement = Judgement.owned.for_studio(piece.studio).filter(firing=last).first()
    if judgement is None or judgement.verdict == Judgement.NOT_JUDGED:
        return 0.0
    numbers = numbers_of(judgement)
    return mpa(numbers["residual_max_tension_pa"])[2] if numbers["is_over"] else 0.0
