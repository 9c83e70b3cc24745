"""Where a span may begin: against a plain walk over every quarter of an hour."""

import datetime as dt

from hypothesis import assume, given
from hypothesis import strategies as st

from firing.planning.spans.free_time import Span, merged
from firing.planning.spans.moving import (
    Task,
    free_at,
    latest_start_before,
    nearest_start,
    openings,
    permitted_starts,
)

START = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
QUARTER = dt.timedelta(minutes=15)
DAYS = 6
END = START + dt.timedelta(days=DAYS)


def at(hours):
    return START + dt.timedelta(hours=hours)


def span(start, hours):
    return Span(starts_at=at(start), ends_at=at(start + hours))


quarters = st.integers(min_value=0, max_value=DAYS * 24 * 4).map(lambda n: n / 4)
lengths = st.integers(min_value=1, max_value=120).map(lambda n: n / 4)
spans = st.lists(st.builds(span, quarters, lengths), max_size=5)
heated = st.builds(
    lambda load, cold, rest: Task(
        lasts=dt.timedelta(hours=load + cold + rest),
        load=dt.timedelta(hours=load),
        cold=dt.timedelta(hours=load + cold),
        unload=dt.timedelta(minutes=30),
    ),
    st.sampled_from([0.5, 1.0]),
    lengths,
    st.sampled_from([0.0, 0.5]),
)
plain = st.builds(lambda hours: Task(lasts=dt.timedelta(hours=hours)), lengths)
tasks = heated | plain


def allowed(start, task, taken, access):
    """Say by the rules themselves whether a task may begin then."""
    if task.load and not any(
        hours.starts_at <= start and start + task.load <= hours.ends_at
        for hours in access
    ):
        return False
    free = free_at(start, task, openings(access, task.unload))
    return all(
        hole.ends_at <= start or (free is not None and free <= hole.starts_at)
        for hole in taken
    )


@given(tasks, spans, spans)
def test_ranges_hold_exactly_the_starts_that_the_rules_allow(task, taken, access):
    access = merged(access)
    ranges = permitted_starts(
        task, taken=taken, access=access, not_before=START, until=END
    )
    start = START
    while start <= END:
        inside = any(r.starts_at <= start <= r.ends_at for r in ranges)
        assert inside == allowed(start, task, taken, access), start
        start += QUARTER


@given(tasks, spans, spans, quarters)
def test_the_nearest_start_is_permitted_and_nothing_nearer_is(
    task, taken, access, asked
):
    ranges = permitted_starts(
        task, taken=taken, access=access, not_before=START, until=END
    )
    found = nearest_start(at(asked), ranges, QUARTER)
    assume(found is not None)
    assert any(r.starts_at <= found <= r.ends_at for r in ranges)
    far = abs(found - at(asked))
    start = START
    while start <= END:
        if any(r.starts_at <= start <= r.ends_at for r in ranges):
            assert abs(start - at(asked)) >= far
        start += QUARTER


def test_without_any_range_there_is_no_nearest():
    assert nearest_start(START, [], QUARTER) is None


def test_cold_in_the_night_holds_the_kiln_until_the_morning():
    access = [span(8, 12), span(32, 12)]
    task = Task(
        lasts=dt.timedelta(hours=16.5),
        load=dt.timedelta(minutes=30),
        cold=dt.timedelta(hours=16),
        unload=dt.timedelta(minutes=30),
    )
    opened = openings(access, task.unload)
    assert free_at(at(10), task, opened) == at(32.5), "cold at 2, opened at 8"
    # For a kiln wanted at 8:00 it would have to be empty by the evening before.
    assert latest_start_before(at(32), task, opened) == at(3.5)
    assert latest_start_before(at(32.5), task, opened) == at(16)
    assert latest_start_before(at(8), task, opened) is None


def test_unloading_begins_early_enough_to_end_within_hours():
    task = Task(
        lasts=dt.timedelta(hours=12),
        load=dt.timedelta(hours=1),
        cold=dt.timedelta(hours=11.75),
        unload=dt.timedelta(minutes=30),
    )
    opened = openings([span(8, 12), span(32, 12)], task.unload)
    # Cold at 19:45, a quarter before everybody leaves: the next morning.
    assert free_at(at(8), task, opened) == at(32.5)
    assert openings([span(0, 0.25)], task.unload) == ()


def test_a_start_off_the_grid_in_a_narrow_range_is_taken_as_it_is():
    narrow = Span(
        starts_at=at(1) + dt.timedelta(minutes=3),
        ends_at=at(1) + dt.timedelta(minutes=9),
    )
    assert nearest_start(at(0), [narrow], QUARTER) == narrow.starts_at
    assert nearest_start(at(9), [narrow], QUARTER) == narrow.ends_at
    assert nearest_start(narrow.starts_at, [narrow], QUARTER) == narrow.starts_at
