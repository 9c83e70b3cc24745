"""When somebody may load and unload: against trying every slot."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.planning.problem.access import NEVER, AccessTimes, Run, first_night

# 8:00 to 12:00 and 14:00 to 18:00 of one day, 8:00 to 18:00 of the next.
WINDOWS = ((16, 24), (28, 36), (64, 84))
HORIZON = 96
TIMES = AccessTimes(WINDOWS, HORIZON)


def may_start(windows, horizon, slot, length):
    return any(a <= slot and slot + length <= min(b, horizon) for a, b in windows)


def best_run(windows, horizon, ready, load, run, unload):
    """Find the first unloading, then the last loading that is early enough for it."""
    found = [
        (opened, -start)
        for start in range(ready, horizon + 1)
        for opened in range(start + load + run, horizon + 1)
        if may_start(windows, horizon, start, load)
        and may_start(windows, horizon, opened, unload)
    ]
    if not found:
        return None
    opened, start = min(found)
    return Run(-start, opened, opened + unload)


@pytest.mark.parametrize("length", [1, 2, 8, 9])
def test_the_nearest_starts_on_either_side_lie_wholly_in_access(length):
    free = [s for s in range(HORIZON + 1) if may_start(WINDOWS, HORIZON, s, length)]
    for slot in range(HORIZON + 1):
        after = [s for s in free if s >= slot]
        before = [s for s in free if s <= slot]
        assert TIMES.earliest(length)[slot] == (after[0] if after else NEVER)
        assert TIMES.latest(length)[slot] == (before[-1] if before else -1)


def test_a_firing_is_loaded_as_late_as_its_unloading_allows():
    # Too long for the day: the door opens next morning, so the last loading will do.
    assert TIMES.run_from(16, 1, 20, 1) == Run(35, 64, 65)
    # Loaded at 10:00 it could be opened at 15:30, and no earlier start is of use.
    assert TIMES.run_from(20, 1, 10, 1) == Run(20, 31, 32)


def test_what_ends_after_the_horizon_is_no_firing():
    assert TIMES.run_from(HORIZON + 1, 1, 1, 1) is None
    assert TIMES.run_from(90, 1, 1, 1) is None
    assert TIMES.run_from(64, 1, 30, 1) is None
    assert TIMES.run_from(64, 1, 18, 1) == Run(64, 83, 84)
    assert TIMES.run_from(64, 1, 19, 1) is None


windows = st.lists(
    st.tuples(st.integers(0, 40), st.integers(1, 12)), min_size=1, max_size=4
).map(lambda found: tuple((a, a + length) for a, length in found))
lengths = st.integers(1, 4)


@given(windows, st.integers(0, 30), lengths, st.integers(1, 12), lengths)
def test_a_run_is_the_best_of_all(opened, ready, load, run, unload):
    times = AccessTimes(opened, 48)
    assert times.run_from(ready, load, run, unload) == best_run(
        opened, 48, ready, load, run, unload
    )


@given(windows, lengths, st.integers(1, 12), lengths)
def test_nights_are_all_the_firings_that_none_beats(opened, load, run, unload):
    times = AccessTimes(opened, 48)
    best = {
        found
        for ready in range(49)
        if (found := best_run(opened, 48, ready, load, run, unload)) is not None
    }
    nights = times.nights(load, run, unload)
    assert nights == sorted(best, key=lambda one: one.start)
    assert times.nights(load, run, unload) is nights


def test_the_first_night_is_the_one_that_loads_no_earlier_than_the_glass_is_ready():
    nights = [Run(3, 9, 10), Run(7, 20, 21)]
    assert [first_night(nights, ready) for ready in (0, 3, 4, 7, 8)] == [0, 0, 1, 1, 2]
