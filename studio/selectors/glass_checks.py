"""Checks of a glass's data sheet that a higher app knows how to make.

What a glass can be is physics, which the studio knows nothing of: the app that does
registers a check here when it starts, and the form of a glass asks all of them.
"""

from collections.abc import Callable

from studio.models import Glass
from studio.reader import Reader

GlassCheck = Callable[[Glass, Reader], list[str]]

_checks: list[GlassCheck] = []


def check_of_glass(check: GlassCheck) -> GlassCheck:
    """Register a check: it returns what is wrong with a glass, in the reader's words."""
    _checks.append(check)
    return check


def glass_problems(glass: Glass, reader: Reader) -> list[str]:
    """Return what every registered check says of a glass; it need not be saved."""
    return [told for check in _checks for told in check(glass, reader)]
