"""What should come before a piece of work, told by higher apps: a payment, say.

It is said where the work is done. A studio may make it a rule; then the work is refused
in the same words.
"""

from collections.abc import Callable
from dataclasses import dataclass

from studio.models import Piece
from studio.stages import WorkKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Hindrance:
    """One thing that should have come first, in a sentence, and whether it must."""

    words: str
    is_rule: bool


Provider = Callable[[WorkKind, Piece, bool], list[Hindrance]]

_providers: list[Provider] = []


def before_work(provider: Provider) -> Provider:
    """Register a provider; it is told whether the reader may see money."""
    _providers.append(provider)
    return provider


def hindrances(kind: WorkKind, piece: Piece, *, may_see_money: bool) -> list[Hindrance]:
    """Return what should have come before this work on a piece."""
    return [
        found
        for provider in _providers
        for found in provider(kind, piece, may_see_money)
    ]
