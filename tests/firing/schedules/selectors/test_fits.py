"""Whether a piece goes into a kiln: to the millimetre, and in words where it does not."""

import pytest

from firing.models import FiringKind
from firing.schedules.selectors.fits import kilns, peak_c, stack_problems
from tests import make

# A margin of 15 mm on each side without dams, 50 mm with them; 50 mm below the stack
# and 40 mm above it.
BARE, DAMMED = (530.0, 510.0), (460.0, 440.0)


@pytest.fixture
def problems(strangers):
    kiln = make.kiln(
        studio=strangers.studio,
        shelf_width_mm=560,
        shelf_depth_mm=540,
        inner_height_mm=120,
    )

    def ask(size=BARE, *, high=30.0, is_dammed=False, kind="full fuse", **changes):
        for name, value in changes.items():
            setattr(kiln, name, value)
        return stack_problems(
            kiln=kiln,
            kind=kind,
            width_mm=size[0],
            depth_mm=size[1],
            height_mm=high,
            glass=strangers.glass,
            is_dammed=is_dammed,
            viewer=strangers.viewer(),
        )

    return ask


def test_a_piece_may_fill_the_shelf_but_for_its_margin(problems):
    assert problems(BARE) == problems(BARE[::-1]) == []
    assert problems(DAMMED, is_dammed=True) == []


@pytest.mark.parametrize("off", [(1, 0), (0, 1)])
def test_a_millimetre_more_is_too_much(problems, off):
    wider = (BARE[0] + off[0], BARE[1] + off[1])
    (told,) = problems(wider)
    assert told == (
        f"Its shelf is 560 × 540 mm; the piece needs {560 + off[0]} × {540 + off[1]} mm."
    )
    (told,) = problems((DAMMED[0] + off[0], DAMMED[1] + off[1]), is_dammed=True)
    assert "the piece with its dams needs" in told


def test_air_and_posts_count_in_the_height(problems):
    (told,) = problems(high=31)
    assert told.startswith("It is 120 mm high inside")
    assert told.endswith("needs 121 mm.")


def test_a_kiln_may_just_reach_what_is_needed(problems):
    assert problems(max_temperature_c=815.6) == []
    (told,) = problems(max_temperature_c=800)
    assert told == "It reaches 800 °C; this firing needs 816 °C."
    assert problems(kind="re-anneal") == []


def test_everything_that_is_wrong_is_said(problems):
    assert (
        len(problems((900, 900), high=99, is_retired=True, max_temperature_c=700)) == 4
    )


def test_each_kind_of_firing_has_its_own_peak(cast):
    glass = cast.glass
    peaks = {kind: peak_c(kind, glass) for kind in FiringKind}
    assert peaks[FiringKind.FULL_FUSE] == peaks[FiringKind.TEST] == glass.full_fuse_c
    assert peaks[FiringKind.ENAMEL] == glass.enamel_c
    assert peaks[FiringKind.RE_ANNEAL] == glass.anneal_soak_c
    assert (
        glass.anneal_soak_c
        < peaks[FiringKind.SLUMP]
        < peaks[FiringKind.TACK_FUSE]
        < glass.full_fuse_c
    )


def test_kilns_in_use_come_by_name(cast, strangers):
    make.kiln(studio=cast.studio, name="Zander")
    make.kiln(studio=cast.studio, name="Avocet")
    make.kiln(studio=cast.studio, name="Gone", is_retired=True)
    assert [str(one) for one in kilns(cast.studio)] == [
        "Avocet",
        str(cast.kiln),
        "Zander",
    ]
