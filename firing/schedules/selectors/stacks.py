"""What a stack or slab may be fired for next, by its stage."""

from firing.models import FiringKind
from studio.selectors.pieces import PieceView
from studio.stages import Stage

FUSES = (FiringKind.FULL_FUSE, FiringKind.TACK_FUSE)
# What any slab can go through whenever somebody wants it.
OF_A_SLAB = (FiringKind.SLUMP, FiringKind.TEST)


def allowed_kinds(view: PieceView) -> tuple[str, ...]:
    """Return the kinds of firing that a piece's stage allows, the usual one first."""
    if view.stage is Stage.STACKED:
        return FUSES
    if view.stage is Stage.TACKED:
        return (FiringKind.FULL_FUSE, *OF_A_SLAB)
    if view.stage is Stage.TO_INSPECT:
        return (FiringKind.RE_ANNEAL, *OF_A_SLAB)
    if view.stage is Stage.FIRE_AGAIN:
        # A power cut before the fuse leaves loose sheets, one after it a slab.
        usual = (FiringKind.FULL_FUSE, FiringKind.RE_ANNEAL)
        return (*usual[::-1], *OF_A_SLAB) if view.is_fused else usual
    return ()


def table_kinds(view: PieceView) -> tuple[str, ...]:
    """Return the allowed kinds with a rule in the table: all but a test firing."""
    return tuple(kind for kind in allowed_kinds(view) if kind != FiringKind.TEST)


def kind_choices(kinds: tuple[str, ...]) -> list[tuple[str, str]]:
    """Return kinds of firing with their words."""
    return [(FiringKind(kind).value, FiringKind(kind).label) for kind in kinds]
