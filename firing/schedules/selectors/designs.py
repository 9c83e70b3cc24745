"""A design as its pages show it: outcomes side by side, reasons, and assumptions."""

from contextlib import suppress
from dataclasses import dataclass, replace
from hashlib import sha256

from firing.models import FiringKind, ScheduleRule
from firing.physics.designing.design import Design, Rule
from firing.physics.designing.request import DesignRequest
from firing.physics.limits import DEFAULT_LIMITS, Limits
from firing.physics.schedule import PhysicsProblem
from firing.physics.slab.input import ROOM_K
from firing.schedules.selectors import stress_words
from firing.schedules.selectors.across_words import across_words
from firing.schedules.selectors.computed import proposal_of
from firing.schedules.selectors.fuse_anneal import OF_ENGINE
from firing.schedules.selectors.programmes import Proposal, propose_stack
from firing.schedules.selectors.slabs import tension_in
from firing.schedules.selectors.stress import (
    Told,
    cache_key,
    designed,
    faces_words,
    is_designed,
    request_of,
)
from firing.schedules.selectors.stress_words import (
    Because,
    DesignOutcome,
)
from firing.schedules.selectors.verdict_numbers import across_numbers
from studio.models import Glass, Kiln
from studio.selectors.pieces import PieceView
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
    longest_mm: float | None = None
    """Its longest side, if it is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownDesign:
    """A design in the reader's words, with the engine's own beside it."""

    design: Design
    outcomes: tuple[DesignOutcome, ...]
    gain: tuple[str, ...]
    reasons: tuple[Because, ...]
    across: tuple[str, ...]
    assumptions: tuple[str, ...]
    glass: Glass
    kiln: Kiln
    annealing_point: str
    """What it does to the result that only the family's is known, else empty."""

    @property
    def is_unmeasured(self) -> bool:
        """Return whether nobody has measured how even the kiln is across the slab."""
        across = self.design.request.across
        return across is not None and across.edge_k == (-ROOM_K, ROOM_K)

    @property
    def uneven(self) -> str:
        """State the rule for uneven thickness and inclusions."""
        return UNEVEN_WORDS


def asked_for_piece(
    view: PieceView,
    *,
    kiln: Kiln,
    kind: str,
    limits: Limits,
    there_mpa: float | None = None,
) -> DesignAsked:
    """Return what a piece's own fuse, slump or re-anneal asks for.

    The tension in it is looked up unless it is given.
    """
    piece = view.piece
    return DesignAsked(
        kind=kind,
        thickness_mm=view.height_mm,
        glass=piece.glass,
        kiln=kiln,
        is_dammed=piece.is_dammed,
        limits=limits,
        there_mpa=tension_in(piece, kind) if there_mpa is None else there_mpa,
        longest_mm=piece.longest_mm,
    )


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
        longest_mm=asked.longest_mm,
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


def proposals(asked: DesignAsked, design: Design) -> dict[Rule, Proposal]:
    """Return the design and the table's rules as the kiln would be booked for each.

    What the kiln or its controller cannot do is left out.
    """
    found: dict[Rule, Proposal] = {}
    for rule in (Rule.DESIGN, *(one.rule for one in design.compared)):
        with suppress(PhysicsProblem):
            found[rule] = (
                _of_design(asked, design)
                if rule is Rule.DESIGN
                else propose(asked, OF_ENGINE[rule])
            )
    return found


def propose(asked: DesignAsked, rule: str) -> Proposal:
    """Return a proposal by any rule of a fuse.

    Raises
    ------
    PhysicsProblem
        When there is no such schedule, or kiln or controller cannot do it.
    """
    if rule == ScheduleRule.COMPUTED:
        return _of_design(asked, designed(request_for(asked)))
    return propose_stack(
        kind=asked.kind,
        rule=rule,
        thickness_mm=asked.thickness_mm,
        glass=asked.glass,
        kiln=asked.kiln,
    )


def _of_design(asked: DesignAsked, design: Design) -> Proposal:
    return proposal_of(
        design,
        kind=asked.kind,
        thickness_mm=asked.thickness_mm,
        glass=asked.glass,
        kiln=asked.kiln,
        is_dammed=asked.is_dammed,
    )


def shown_design(
    asked: DesignAsked,
    *,
    viewer: Viewer,
    told: Told | None = None,
) -> ShownDesign:
    """Design a schedule and say what it means; hours run from loading to opening.

    Raises
    ------
    PhysicsProblem
        When the request is outside the model, or no schedule keeps the limits.
    """
    design = designed(request_for(asked), told)
    lengths = {
        rule: one.opens_after_s for rule, one in proposals(asked, design).items()
    }
    outcomes = tuple(stress_words.outcomes(design, viewer, lengths))
    return ShownDesign(
        design=design,
        outcomes=outcomes,
        gain=tuple(stress_words.gain_words(design, viewer, lengths)),
        reasons=tuple(stress_words.reasons_of(design, viewer)),
        across=_across(asked, design, viewer),
        assumptions=(
            faces_words(is_dammed=asked.is_dammed),
            "The slab may bend freely. Edges, corners and bubbles are not computed.",
            stress_words.uncertainty_words(design, viewer),
            f"From {asked.limits.warning_pa / 1e6:g} MPa on it may crack, whatever "
            "limits are set.",
        ),
        glass=asked.glass,
        kiln=asked.kiln,
        annealing_point=stress_words.annealing_point_words(
            design, asked.glass.family, viewer
        ),
    )


def _across(asked: DesignAsked, design: Design, viewer: Viewer) -> tuple[str, ...]:
    """Say what an uneven kiln does; single sheets lose that in the fuse."""
    if asked.kind == FiringKind.ENAMEL:
        return ()
    widest_mm = None if design.widest_m is None else design.widest_m * 1000
    numbers = across_numbers(design.request.across, design.proposed.band.across)
    return tuple(across_words(numbers, viewer, widest_mm=widest_mm))
