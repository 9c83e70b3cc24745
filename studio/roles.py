"""Who may do what: four roles and their abilities, in one table.

Pure: no framework. Views declare an ability with ``@requires``, never a role, so this
table alone decides.
"""

from enum import StrEnum


class Role(StrEnum):
    """What a person is in one studio."""

    OWNER = "owner"
    MAKER = "maker"
    HELPER = "helper"
    TECHNICIAN = "technician"


class Can(StrEnum):
    """An ability that a page or an action asks for."""

    SEE_WORK = "see work"
    """Pieces, layers, kilns, firings: everything but money and clients."""
    RECORD_WORK = "record work"
    """Say what was painted and what was cut or made again; add pictures."""
    RUN_FIRINGS = "run firings"
    """Load, start, finish and unload firings; record outcomes and readings."""
    BOOK_KILNS = "book kilns"
    """Compute schedules, make up loads, book and cancel kiln time."""
    PLAN_PIECES = "plan pieces"
    """Create pieces, plan layers, check stacks, judge and finish a piece."""
    MANAGE_KILNS = "manage kilns"
    """Kilns, access hours and closures."""
    SEE_MONEY = "see money"
    """Clients, commissions, quotes, payments, prices."""
    MANAGE_STUDIO = "manage studio"
    """The studio's own details, its people and its rates."""


ABILITIES: dict[Role, frozenset[Can]] = {
    Role.OWNER: frozenset(Can),
    Role.MAKER: frozenset(
        {
            Can.SEE_WORK,
            Can.RECORD_WORK,
            Can.RUN_FIRINGS,
            Can.BOOK_KILNS,
            Can.PLAN_PIECES,
            Can.SEE_MONEY,
        }
    ),
    Role.HELPER: frozenset({Can.SEE_WORK, Can.RECORD_WORK, Can.RUN_FIRINGS}),
    Role.TECHNICIAN: frozenset(
        {Can.SEE_WORK, Can.RUN_FIRINGS, Can.BOOK_KILNS, Can.MANAGE_KILNS}
    ),
}


def allowed(role: str, ability: Can) -> bool:
    """Return whether the role has the ability."""
    return ability in ABILITIES[Role(role)]
