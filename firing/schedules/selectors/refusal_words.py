"""The model's refusals in the reader's units, from their kinds and quantities."""

import math
from typing import Any

from firing.physics.refusals import Quantity, Refusal, Unit
from firing.physics.schedule import PhysicsProblem
from studio.errors import StudioError
from studio.viewer import Viewer


def refusal_words(problem: StudioError, viewer: Viewer) -> str:
    """Say why something was refused, with the quantities in the reader's units."""
    if isinstance(problem, PhysicsProblem):
        return problem.refusal.said(lambda one: quantity_words(one, viewer))
    return str(problem)


def stored_refusal_words(stored: str | dict[str, Any], viewer: Viewer) -> str:
    """Return the words of a stored refusal; old ones are stored as words."""
    if isinstance(stored, str):
        return stored
    return Refusal.from_json(stored).said(lambda one: quantity_words(one, viewer))


def quantity_words(one: Quantity, viewer: Viewer) -> str:
    """Return a quantity in the reader's units, or in SI if they have none."""
    if not math.isfinite(one.value):
        return str(one)
    match one.unit:
        case Unit.CELSIUS:
            return viewer.temperature(one.value)
        case Unit.DIFFERENCE:
            return viewer.temperature_difference(one.value)
        case Unit.CELSIUS_PER_HOUR:
            return viewer.rate(one.value)
        case Unit.METRE:
            return viewer.length(one.value * 1000)
    return str(one)
