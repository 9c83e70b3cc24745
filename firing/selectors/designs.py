"""A design as its pages show it: outcomes side by side, reasons, and what is assumed."""

from dataclasses import dataclass

from firing.physics.design import Design
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.selectors import stress_words
from firing.selectors.stress import designed, faces_words, request_of
from firing.selectors.stress_words import Because, Outcome
from studio.models import Glass, Kiln
from studio.reader import Reader


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownDesign:
    """A design in the reader's words; the engine's own stays beside it."""

    design: Design
    outcomes: tuple[Outcome, ...]
    gain: tuple[str, ...]
    reasons: tuple[Because, ...]
    assumptions: tuple[str, ...]

    @property
    def proposed(self) -> Outcome:
        return self.outcomes[0]


def shown_design(
    *,
    kind: str,
    thickness_mm: float,
    glass: Glass,
    kiln: Kiln,
    is_dammed: bool,
    reader: Reader,
    limits: Limits = DEFAULT_LIMITS,
) -> ShownDesign:
    """Design a schedule and say what it means.

    Raises
    ------
    PhysicsProblem
        When the request is outside the model, or no schedule keeps the limits.
    """
    design = designed(
        request_of(
            kind=kind,
            thickness_mm=thickness_mm,
            glass=glass,
            kiln=kiln,
            is_dammed=is_dammed,
            limits=limits,
        )
    )
    return ShownDesign(
        design=design,
        outcomes=tuple(stress_words.outcomes(design, reader)),
        gain=tuple(stress_words.gain_words(design, reader)),
        reasons=tuple(stress_words.reasons_of(design, reader)),
        assumptions=(
            faces_words(is_dammed=is_dammed),
            "The slab may bend freely. Edges, corners, bubbles, and what dams or an "
            "uneven kiln do across the slab are not computed.",
            stress_words.uncertainty_words(design, reader),
            f"From {limits.warning_pa / 1e6:g} MPa on it may crack, whatever limits are "
            "set.",
        ),
    )
