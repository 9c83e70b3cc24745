"""Why something cannot be planned: where in the file it lies, and in a sentence."""

import pytest

from firing.planning.problem.cannot import (
    BeginsTooLate,
    DoesNotFit,
    Door,
    DoorTooShort,
    KilnLimits,
    LacksSkill,
    NobodyComesIn,
    NobodyForColdwork,
    NoGapForFuse,
    NoKilns,
    NoKilnTakes,
    NoRoomUnmoved,
    TooMuchLabour,
)
from firing.planning.problem.cannot_words import CannotPlan, cannot_words, hours, key_of
from firing.planning.problem.problem import Skill

LOW = KilnLimits(kiln="K1", height_mm=120)
COLD = KilnLimits(kiln="K2", reaches_f=1400)
SMALL = KilnLimits(kiln="K3", shelf_mm=(300, 250))


def no_kiln(*kilns, kind=""):
    return NoKilnTakes(
        piece="P1",
        kind=kind,
        temp_f=1500,
        height_mm=150,
        size_mm=(310, 240),
        kilns=kilns,
    )


REASONS = {
    "access": (NobodyComesIn(), "nobody ever comes in: add a window."),
    "kilns": (NoKilns(), "there is no kiln."),
    "people": (NobodyForColdwork(piece="P1"), "nobody who can do coldwork has hours;"),
    "pieces[P1].artist": (
        LacksSkill(piece="P1", artist="A1", skill=Skill.PAINT),
        f"A1 cannot {Skill.PAINT}, which P1 needs.",
    ),
    "kinds[trace].load": (
        DoorTooShort(door=Door.LOAD, needed=5, longest=4, kind="trace"),
        "it takes 2.5 h; the studio is never open that long (at most 2 h).",
    ),
    "pieces[P1].fuse_unload": (
        DoorTooShort(door=Door.UNLOAD, needed=5, longest=4, piece="P1"),
        "it takes 2.5 h;",
    ),
    "pieces[P1].fuse_run": (NoGapForFuse(piece="P1", needed=200), "100 h do not fit"),
    "pieces[P1].layers": (
        TooMuchLabour(piece="P1", artist="A1", needed=9, has=8, release=48),
        "painting and assembly need 4.5 h, and A1 has 4 h from slot 48",
    ),
    "pieces[P1].fuse_temp_f": (
        no_kiln(COLD),
        "no kiln can fuse it: K2 reaches 1400 °F, needed 1500.",
    ),
    "pieces[P1].height_mm": (
        no_kiln(LOW, COLD),
        "no kiln can fuse it: K1 is 120 mm high, needed 150; K2 reaches",
    ),
    "pieces[P1].width_mm": (
        no_kiln(LOW, SMALL),
        "no kiln can fuse it: K1 is 120 mm high, needed 150; K3 has a shelf of "
        "300 × 250 mm, needed 310 × 240.",
    ),
}
OF_THE_HORIZON = [
    (
        BeginsTooLate(piece="P1", release=90, horizon=96, needed=120),
        "P1 may begin at slot 90 and does not fit before slot 96; more than 120 would",
    ),
    (
        DoesNotFit(piece="P1", horizon=96, enough=384),
        "P1 does not fit before slot 96; about 384 would do",
    ),
    (
        DoesNotFit(piece="P1", horizon=96, enough=None),
        "P1 does not fit before slot 96; four times as long would not do either",
    ),
    (NoRoomUnmoved(piece="P1", horizon=96), "P1 does not fit before slot 96, with"),
]


@pytest.mark.parametrize("key", REASONS)
def test_a_reason_lies_at_its_key(key):
    reason, words = REASONS[key]
    assert key_of(reason) == key
    assert cannot_words(reason).startswith(words)


@pytest.mark.parametrize(("reason", "words"), OF_THE_HORIZON)
def test_what_comes_too_late_lies_at_the_horizon(reason, words):
    assert key_of(reason) == "horizon"
    assert cannot_words(reason).startswith(words)


def test_a_layer_that_no_kiln_takes_is_too_wide_for_all_or_barred():
    barred = KilnLimits(kiln="K1", is_barred=True, reaches_f=1400)
    reason = no_kiln(barred, KilnLimits(kiln="K4"), kind="trace")
    assert key_of(reason) == "pieces[P1].width_mm"
    assert cannot_words(reason) == (
        "no kiln takes a layer in a trace firing: K1 is barred for this piece and "
        "reaches 1400 °F, needed 1500."
    )


def test_things_are_called_as_the_reader_calls_them():
    words = cannot_words(no_kiln(LOW), {"K1": "the low kiln"}.get)
    assert "the low kiln is 120 mm high" in words


def test_hours_are_halves_of_slots():
    assert [hours(n) for n in (0, 1, 4)] == ["0 h", "0.5 h", "2 h"]


def test_the_error_keeps_the_facts_and_says_where():
    problem = CannotPlan(NoKilns())
    assert problem.reason == NoKilns()
    assert "kilns" in str(problem)
    assert "there is no kiln." in str(problem)
