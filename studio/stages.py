"""What stage a piece or a layer is at, derived from what happened to it.

Pure: facts in, a stage out. No stage is ever stored or typed in.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class WorkKind(StrEnum):
    """Work that a payment, or something else, may have to come before."""

    PAINT = "paint"
    FUSE = "fuse"


class LayerState(StrEnum):
    """The state of one layer; the edge view draws each differently."""

    PLANNED = "planned"
    PAINTED = "painted"
    NEXT_PASS = "next pass"
    BURNT = "burnt"
    CLEAR = "clear"
    REMAKE = "remake"


LAYER_STATE_WORDS = {
    LayerState.PLANNED: "Waits for its first pass",
    LayerState.PAINTED: "Painted, waits for the kiln",
    LayerState.NEXT_PASS: "Waits for its next pass",
    LayerState.BURNT: "Burnt on, done",
    LayerState.CLEAR: "Clear, done",
    LayerState.REMAKE: "To be made again",
}

# The image of a layer with more is another technique. Common practice, no source.
MOST_PASSES = 12

DONE_STATES = frozenset({LayerState.BURNT, LayerState.CLEAR})


@dataclass(frozen=True, slots=True, kw_only=True)
class PassFacts:
    """What a pass's row says: whether it is painted, and how the firing left it."""

    is_painted: bool
    outcome: str


def layer_state(
    *, is_clear: bool, has_sheet: bool, attempt: int, passes: Sequence[PassFacts]
) -> LayerState:
    """Derive a layer's state from its current sheet and that sheet's passes in order."""
    if not has_sheet:
        return LayerState.REMAKE
    if is_clear:
        return LayerState.CLEAR
    waiting = [p for p in passes if not p.outcome]
    if not waiting:
        return LayerState.BURNT
    if waiting[0].is_painted:
        return LayerState.PAINTED
    if len(waiting) < len(passes):
        return LayerState.NEXT_PASS
    return LayerState.REMAKE if attempt > 1 else LayerState.PLANNED


class Stage(StrEnum):
    """The stage of a piece, in the order of the work."""

    PLANNED = "planned"
    PAINTING = "painting"
    READY_TO_STACK = "ready to stack"
    STACKED = "stacked"
    IN_KILN = "in the kiln"
    TACKED = "tacked"
    FIRE_AGAIN = "fire again"
    CRACKED = "cracked"
    TO_INSPECT = "to inspect"
    FINISHED = "finished"
    LOST = "lost"
    STOPPED = "stopped"


STAGE_WORDS = {
    Stage.PLANNED: "Planned",
    Stage.PAINTING: "Layers being painted",
    Stage.READY_TO_STACK: "All layers done, ready to stack",
    Stage.STACKED: "Stacked and checked",
    Stage.IN_KILN: "In the kiln",
    Stage.TACKED: "Tack fused",
    Stage.FIRE_AGAIN: "Must be fired again",
    Stage.CRACKED: "Cracked: decide what to do",
    Stage.TO_INSPECT: "Out of the kiln, to be inspected",
    Stage.FINISHED: "Finished",
    Stage.LOST: "Lost",
    Stage.STOPPED: "Stopped",
}

CLOSED_STAGES = frozenset({Stage.FINISHED, Stage.LOST, Stage.STOPPED})
# What is in a kiln comes out of it, and what is finished stays so.
NOT_STOPPED = frozenset({Stage.FINISHED, Stage.LOST, Stage.IN_KILN})


@dataclass(frozen=True, slots=True, kw_only=True)
class EventFacts:
    """What an event's row says; kinds and outcomes as stored."""

    kind: str
    outcome: str = ""
    firing_kind: str = ""


def piece_stage(
    *,
    layers: Sequence[LayerState],
    events: Sequence[EventFacts],
    any_painted: bool,
    is_stopped: bool = False,
) -> Stage:
    """Derive a piece's stage from its layers and its events in order of time."""
    stage = _stage_in_work(layers, events, any_painted=any_painted)
    return Stage.STOPPED if is_stopped and stage not in NOT_STOPPED else stage


def _stage_in_work(
    layers: Sequence[LayerState], events: Sequence[EventFacts], *, any_painted: bool
) -> Stage:
    if any(event.kind == "lost" for event in events):
        return Stage.LOST
    if events:
        return _stage_after(events[-1])
    if layers and all(state in DONE_STATES for state in layers):
        return Stage.READY_TO_STACK
    return Stage.PAINTING if any_painted else Stage.PLANNED


def _stage_after(event: EventFacts) -> Stage:
    if event.kind == "out of kiln":
        if event.outcome == "cracked":
            return Stage.CRACKED
        if event.outcome == "redo":
            return Stage.FIRE_AGAIN
        is_tack = event.firing_kind == "tack fuse"
        return Stage.TACKED if is_tack else Stage.TO_INSPECT
    return {
        "stack checked": Stage.STACKED,
        "into kiln": Stage.IN_KILN,
        "finished": Stage.FINISHED,
    }[event.kind]
