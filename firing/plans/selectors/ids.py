"""The ids of a studio's rows in the planner: their kind and key, never a name.

Padded, so that the tenth comes after the ninth: ties are broken in the order of the keys.
"""


def kiln_id(pk: int) -> str:
    """Return the id of a kiln."""
    return f"kiln:{pk:010}"


def piece_id(pk: int) -> str:
    """Return the id of a piece."""
    return f"piece:{pk:010}"


def person_id(pk: int) -> str:
    """Return the id of somebody who works by hand."""
    return f"person:{pk:010}"


def booking_id(pk: int) -> str:
    """Return the id of something in a kiln that does not move."""
    return f"booking:{pk:010}"
