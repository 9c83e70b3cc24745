"""Stages and states: every fact that decides, and nothing else."""

import pytest

from studio import stages
from studio.stages import EventFacts, LayerState, PassFacts, Stage, layer_state
from studio.stages import piece_stage as stage_of

TO_PAINT = PassFacts(is_painted=False, outcome="")
PAINTED = PassFacts(is_painted=True, outcome="")
FINE = PassFacts(is_painted=True, outcome="fine")
REDO = PassFacts(is_painted=True, outcome="redo")


def state(*passes, is_clear=False, has_sheet=True, attempt=1):
    return layer_state(
        is_clear=is_clear, has_sheet=has_sheet, attempt=attempt, passes=passes
    )


@pytest.mark.parametrize(
    ("passes", "expected"),
    [
        ([TO_PAINT, TO_PAINT], LayerState.PLANNED),
        ([PAINTED, TO_PAINT], LayerState.PAINTED),
        ([FINE, TO_PAINT], LayerState.NEXT_PASS),
        ([FINE, PAINTED], LayerState.PAINTED),
        ([FINE, FINE], LayerState.BURNT),
        ([REDO, TO_PAINT, TO_PAINT], LayerState.NEXT_PASS),
        ([REDO, FINE, FINE], LayerState.BURNT),
    ],
)
def test_a_layer_follows_its_passes(passes, expected):
    assert state(*passes) is expected


def test_a_layer_without_a_sheet_is_to_be_made_again_even_a_clear_one():
    assert state(has_sheet=False, attempt=0) is LayerState.REMAKE
    assert state(has_sheet=False, attempt=0, is_clear=True) is LayerState.REMAKE


def test_a_clear_layer_is_done_once_it_is_cut():
    assert state(is_clear=True) is LayerState.CLEAR
    assert LayerState.CLEAR in stages.DONE_STATES


def test_a_new_sheet_counts_as_being_made_again_until_it_is_painted():
    assert state(TO_PAINT, attempt=2) is LayerState.REMAKE
    assert state(PAINTED, attempt=2) is LayerState.PAINTED
    assert state(FINE, TO_PAINT, attempt=2) is LayerState.NEXT_PASS


def piece(*events, layers=(LayerState.BURNT, LayerState.CLEAR), any_painted=True):
    return stage_of(
        layers=layers,
        events=[EventFacts(**event) for event in events],
        any_painted=any_painted,
    )


CHECKED = {"kind": "stack checked"}
INTO = {"kind": "into kiln", "firing_kind": "full fuse"}
OUT = {"kind": "out of kiln", "firing_kind": "full fuse", "outcome": "fine"}
FINISHED = {"kind": "finished"}
LOST = {"kind": "lost"}


def test_before_the_stack_the_layers_decide():
    waiting = (LayerState.PLANNED, LayerState.CLEAR)
    assert piece(layers=waiting, any_painted=False) is Stage.PLANNED
    assert piece(layers=waiting, any_painted=True) is Stage.PAINTING
    assert piece() is Stage.READY_TO_STACK
    assert piece(layers=(), any_painted=False) is Stage.PLANNED


@pytest.mark.parametrize(
    "left",
    [
        LayerState.PLANNED,
        LayerState.PAINTED,
        LayerState.NEXT_PASS,
        LayerState.REMAKE,
    ],
)
def test_one_layer_that_is_not_done_keeps_the_stack_waiting(left):
    assert piece(layers=(LayerState.BURNT, left)) is Stage.PAINTING


@pytest.mark.parametrize(
    ("events", "expected"),
    [
        ([CHECKED], Stage.STACKED),
        ([CHECKED, INTO], Stage.IN_KILN),
        ([CHECKED, INTO, OUT], Stage.TO_INSPECT),
        ([CHECKED, INTO, OUT | {"firing_kind": "tack fuse"}], Stage.TACKED),
        ([CHECKED, INTO, OUT | {"outcome": "redo"}], Stage.FIRE_AGAIN),
        (
            [CHECKED, INTO, OUT | {"outcome": "redo", "firing_kind": "tack fuse"}],
            Stage.FIRE_AGAIN,
        ),
        ([CHECKED, INTO, OUT | {"outcome": "cracked"}], Stage.CRACKED),
        ([CHECKED, INTO, OUT | {"outcome": "redo"}, INTO], Stage.IN_KILN),
        ([CHECKED, INTO, OUT, FINISHED], Stage.FINISHED),
        ([CHECKED, LOST], Stage.LOST),
        ([LOST, CHECKED], Stage.LOST),
    ],
)
def test_the_last_event_decides_and_lost_stays_lost(events, expected):
    assert piece(*events) is expected


def test_an_unknown_event_is_an_error_and_not_a_guess():
    with pytest.raises(KeyError):
        piece({"kind": "painted over"})


def test_every_state_and_stage_has_words():
    assert set(stages.STAGE_WORDS) == set(Stage)
    assert set(stages.LAYER_STATE_WORDS) == set(LayerState)
    assert all(stages.STAGE_WORDS.values())


def test_only_what_is_finished_lost_or_stopped_is_closed():
    assert {Stage.FINISHED, Stage.LOST, Stage.STOPPED} == stages.CLOSED_STAGES


@pytest.mark.parametrize(
    ("kinds", "stage"),
    [
        ((), Stage.STOPPED),
        (("stack checked",), Stage.STOPPED),
        (("stack checked", "into kiln"), Stage.IN_KILN),
        (("stack checked", "into kiln", "out of kiln"), Stage.STOPPED),
        (("stack checked", "lost"), Stage.LOST),
        (("finished",), Stage.FINISHED),
    ],
)
def test_stopped_work_still_comes_out_of_a_kiln_and_stays_what_it_became(kinds, stage):
    events = [EventFacts(kind=kind, outcome="fine") for kind in kinds]
    found = stages.piece_stage(
        layers=[], events=events, any_painted=True, is_stopped=True
    )
    assert found is stage
