"""A design as its pages show it: outcomes side by side, reasons, and assumptions."""

from dataclasses import dataclass, replace
from hashlib import sha256

from firing.physics.designing.design import Design
from firing.physics.designing.request import DesignRequest
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.physics.schedule import PhysicsProblem
from firing.schedules.selectors import stress_words
from firing.schedules.selectors.stress import (
    Told,
    cache_key,
    designed,
    faces_words,
    is_designed,
    request_of,
)
from firing.schedules.selectors.stress_words import Because, DesignOutcome
from studio.models import Glass, Kiln
from studio.viewer import Viewer

UNEVEN_WORDS = (
    "Uneven glass: the thickest place is taken for all of it. Bubbles, pieces of other "
    "glass and other inclusions make the stress beside them two to three times higher, "
    "so keep that far below a limit where the work has any."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignAsked:
    """What a schedule is for; `is_alone` also wants the one by the limits alone."""

    kind: str
    thickness_mm: float
    glass: Glass
    kiln: Kiln
    is_dammed: bool
    limits: Limits = DEFAULT_LIMITS
    is_alone: bool = False
    there_mpa: float = 0.0
    """Tension that the slab has already, which counts while it is heated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownDesign:
    """A design in the reader's words, with the engine's own beside it."""

    design: Design
    outcomes: tuple[DesignOutcome, ...]
    gain: tuple[str, ...]
    reasons: tuple[Because, ...]
    assumptions: tuple[str, ...]
    glass: Glass
    annealing_point: str
    """What it does to the result that only the family's is known, else empty."""

    @property
    def proposed(self) -> DesignOutcome:
        return self.outcomes[0]

    @property
    def said(self) -> str:
        """Say the outcome in one sentence, for those who do not see it."""
        one = self.proposed
        stays, cooling, heating = one.bands
        return (
            f"Schedule of {one.total}, {one.verdict.lower()}: {stays.range} stays in the "
            f"glass, {cooling.range} while cooling, {heating.range} while heating."
        )

    @property
    def uneven(self) -> str:
        """State the rule for uneven thickness and inclusions."""
        return UNEVEN_WORDS


def request_for(asked: DesignAsked) -> DesignRequest:
    """Return the request for the engine.

    Raises
    ------
    PhysicsProblem
        When the glass, the height or the temperatures are outside the model.
    """
    return request_of(
        kind=asked.kind,
        thickness_mm=asked.thickness_mm,
        glass=asked.glass,
        kiln=asked.kiln,
        is_dammed=asked.is_dammed,
        limits=asked.limits,
        there_mpa=asked.there_mpa,
    )


def requests_for(asked: DesignAsked) -> tuple[DesignRequest, ...]:
    """Return every requested design: the proposal, and the limits alone.

    Raises
    ------
    PhysicsProblem
        As `request_for`.
    """
    request = request_for(asked)
    return (request, alone(request)) if asked.is_alone else (request,)


def alone(request: DesignRequest) -> DesignRequest:
    """Return the same request without the table's row as the minimum."""
    return replace(request, floor=None)


def fingerprint(asked: DesignAsked) -> str:
    """Return the hash of everything behind the designs, including the engine.

    Raises
    ------
    PhysicsProblem
        As `request_for`.
    """
    keys = "\n".join(cache_key(request) for request in requests_for(asked))
    return sha256(keys.encode()).hexdigest()


def is_ready(asked: DesignAsked) -> bool:
    """Return whether nothing is left to compute.

    What the model refuses at once is ready too: its words are.
    """
    try:
        return all(is_designed(request) for request in requests_for(asked))
    except PhysicsProblem:
        return True


def compute_designs(asked: DesignAsked, told: Told | None = None) -> None:
    """Compute what was requested and save it, including the model's refusals.

    Raises
    ------
    PhysicsProblem
        When a request is outside the model, or there is no such schedule.
    """
    for request in requests_for(asked):
        designed(request, told)


def shown_design(
    asked: DesignAsked, *, viewer: Viewer, told: Told | None = None
) -> ShownDesign:
    """Design a schedule and say what it means.

    Raises
    ------
    PhysicsProblem
        When the request is outside the model, or no schedule keeps the limits.
    """
    design = designed(request_for(asked), told)
    return ShownDesign(
        design=design,
        outcomes=tuple(stress_words.outcomes(design, viewer)),
        gain=tuple(stress_words.gain_words(design, viewer)),
        reasons=tuple(stress_words.reasons_of(design, viewer)),
        assumptions=(
            faces_words(is_dammed=asked.is_dammed),
            "The slab may bend freely. Edges, corners, bubbles, and what dams or an "
            "uneven kiln do across the slab are not computed.",
            stress_words.uncertainty_words(design, viewer),
            f"From {asked.limits.warning_pa / 1e6:g} MPa on it may crack, whatever "
            "limits are set.",
        ),
        glass=asked.glass,
        annealing_point=stress_words.annealing_point_words(
            design, asked.glass.family, viewer
        ),
    )
