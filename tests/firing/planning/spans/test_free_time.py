"""Finding free time: half-open spans, loading while somebody is in, full quarters."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.planning.spans.free_time import (
    NoRoom,
    Span,
    earliest_start,
    merged,
    next_attended,
    without,
)

DAY = dt.datetime(2026, 3, 4, tzinfo=dt.UTC)
QUARTER = dt.timedelta(minutes=15)


def span(start_h, end_h):
    return Span(
        starts_at=DAY + dt.timedelta(hours=start_h),
        ends_at=DAY + dt.timedelta(hours=end_h),
    )


def find(*, after_h=0.0, lasts_h=2.0, taken=(), access=((0, 240),), attended_h=1.0):
    found = earliest_start(
        after=DAY + dt.timedelta(hours=after_h),
        lasts=dt.timedelta(hours=lasts_h),
        taken=[span(*t) for t in taken],
        access=[span(*a) for a in access],
        attended=dt.timedelta(hours=attended_h),
        step=QUARTER,
        until=DAY + dt.timedelta(days=10),
    )
    return (found - DAY).total_seconds() / 3600


def test_free_time_starts_at_once_on_the_quarter():
    assert find(after_h=9.1) == 9.25


def test_spans_may_touch():
    assert find(taken=[(0, 5), (7, 9)]) == 5


def test_a_hole_too_short_is_passed_over():
    assert find(taken=[(0, 5), (6.5, 9)]) == 9


def test_loading_happens_while_somebody_is_in():
    assert find(access=[(8, 10), (32, 40)], after_h=9.25) == 32


def test_the_cycle_itself_runs_unattended():
    assert find(access=[(8, 10), (32, 40)], lasts_h=100) == 8


def test_no_room_is_said():
    with pytest.raises(NoRoom):
        find(taken=[(0, 24 * 30)])
    with pytest.raises(NoRoom):
        find(access=[])


hours = st.integers(min_value=0, max_value=200)
spans = st.lists(
    st.tuples(hours, st.integers(min_value=1, max_value=30)).map(
        lambda s: (s[0], s[0] + s[1])
    ),
    max_size=8,
)


@given(taken=spans, access=spans, after=hours, lasts=st.integers(1, 50))
def test_a_found_start_is_right_and_none_is_earlier(taken, access, after, lasts):
    def is_right(start_h):
        mine = span(start_h, start_h + lasts)
        attending = merged([span(*a) for a in access])
        return not any(mine.overlaps(span(*t)) for t in taken) and any(
            a.starts_at <= mine.starts_at
            and mine.starts_at + dt.timedelta(hours=1) <= a.ends_at
            for a in attending
        )

    try:
        found = find(after_h=after, lasts_h=lasts, taken=taken, access=access)
    except NoRoom:
        found = 240.25
    else:
        assert is_right(found)
    # Everything here lies on full hours, so the earliest start does too.
    assert not any(is_right(h) for h in range(after, min(int(found), 240)))


@given(kept=spans, cut=spans)
def test_what_is_left_after_cutting(kept, cut):
    left = without([span(*k) for k in kept], [span(*c) for c in cut])
    for quarter in range(240 * 2):
        at = DAY + dt.timedelta(minutes=30 * quarter)

        def inside(found, at=at):
            return any(s.starts_at <= at < s.ends_at for s in found)

        expected = inside([span(*k) for k in kept]) and not inside(
            [span(*c) for c in cut]
        )
        assert inside(left) is expected


def test_next_attended():
    access = [span(8, 10), span(32, 40)]
    assert next_attended(DAY + dt.timedelta(hours=9), access) == DAY + dt.timedelta(
        hours=9
    )
    assert next_attended(DAY + dt.timedelta(hours=10), access) == DAY + dt.timedelta(
        hours=32
    )
    assert next_attended(DAY + dt.timedelta(hours=50), access) is None
