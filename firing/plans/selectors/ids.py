"""The ids of a studio's rows in the planner: their kind and key, never a name."""


def kiln_id(pk: int) -> str:
    """Return the id of a kiln."""
    return f"kiln:{pk}"


def piece_id(pk: int) -> str:
    """Return the id of a piece."""
    return f"piece:{pk}"


def person_id(pk: int) -> str:
    """Return the id of somebody who works by hand."""
    return f"person:{pk}"


def booking_id(pk: int) -> str:
    """Return the id of something in a kiln that does not move."""
    return f"booking:{pk}"
