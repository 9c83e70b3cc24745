"""What a stack or slab may be fired for next."""

from types import SimpleNamespace

import pytest

from firing.models import FiringKind
from firing.schedules.selectors.stacks import allowed_kinds, kind_choices, table_kinds
from studio.stages import Stage

FULL, TACK, AGAIN = FiringKind.FULL_FUSE, FiringKind.TACK_FUSE, FiringKind.RE_ANNEAL
SLUMP, TEST = FiringKind.SLUMP, FiringKind.TEST
KINDS = {
    Stage.STACKED: (FULL, TACK),
    Stage.TACKED: (FULL, SLUMP, TEST),
    Stage.TO_INSPECT: (AGAIN, SLUMP, TEST),
    Stage.FIRE_AGAIN: (FULL, AGAIN),
}


def at(stage, *, is_fused=False):
    return SimpleNamespace(stage=stage, is_fused=is_fused)


@pytest.mark.parametrize("stage", Stage)
def test_the_stage_decides_and_the_usual_kind_comes_first(stage):
    assert allowed_kinds(at(stage)) == KINDS.get(stage, ())


def test_a_slab_that_must_be_fired_again_is_annealed_again_first():
    assert allowed_kinds(at(Stage.FIRE_AGAIN, is_fused=True)) == (
        AGAIN,
        FULL,
        SLUMP,
        TEST,
    )


def test_the_table_has_no_rule_for_a_test_firing():
    assert table_kinds(at(Stage.TO_INSPECT)) == (AGAIN, SLUMP)


def test_kinds_are_offered_with_their_words():
    assert kind_choices((TACK,)) == [("tack fuse", TACK.label)]
