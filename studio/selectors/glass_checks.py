"""Checks of glasses, alone and stacked, that a higher app can make.

What a glass can be, and which go together, is physics, and the studio app knows none.
The app that does registers its checks here when it starts. A glass's form runs the
checks of one glass; whatever puts a stack together runs those of a stack.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from studio.models import Glass
from studio.viewer import Viewer

GlassCheck = Callable[[Glass, Viewer], list[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberedGlass:
    """The glass of one layer of a stack, numbered from the back."""

    number: int
    glass: Glass


StackCheck = Callable[[Sequence[NumberedGlass], Viewer], list[str]]

_checks: list[GlassCheck] = []
_stack_checks: list[StackCheck] = []


def check_of_glass(check: GlassCheck) -> GlassCheck:
    """Register a check: it returns what is wrong with a glass, in the reader's words."""
    _checks.append(check)
    return check


def glass_problems(glass: Glass, viewer: Viewer) -> list[str]:
    """Return what every registered check says about a glass; it need not be saved."""
    return [told for check in _checks for told in check(glass, viewer)]


def check_of_stack(check: StackCheck) -> StackCheck:
    """Register a check: it returns which layers do not go together, and why."""
    _stack_checks.append(check)
    return check


def mixed_problems(glasses: Sequence[Glass], viewer: Viewer) -> list[str]:
    """Return what every registered check says about layers, given from the back."""
    layers = [
        NumberedGlass(number=number, glass=glass)
        for number, glass in enumerate(glasses, start=1)
    ]
    return [told for check in _stack_checks for told in check(layers, viewer)]
