"""What is promised for which day, told by whichever app above knows promises.

Firing knows no commissions. An app that does registers a function when it starts;
pieces that nobody promised have no date.
"""

from collections.abc import Callable, Mapping
from datetime import date

from studio.models import Studio

DueDatesProvider = Callable[[Studio], Mapping[int, date]]

_providers: list[DueDatesProvider] = []


def on_due_dates(provider: DueDatesProvider) -> DueDatesProvider:
    """Register a provider of promised dates by the pieces' keys."""
    if provider not in _providers:
        _providers.append(provider)
    return provider


def due_dates(studio: Studio) -> dict[int, date]:
    """Return the promised dates by the pieces' keys, the earliest where two tell one."""
    found: dict[int, date] = {}
    for provider in _providers:
        for piece, day in provider(studio).items():
            found[piece] = min(day, found.get(piece, day))
    return found
