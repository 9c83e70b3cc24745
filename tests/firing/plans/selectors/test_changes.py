"""What another plan would change, in the words of its page."""

import datetime as dt

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firing.plans.selectors.changes import changes_words
from firing.plans.selectors.events import changes_between, events_between
from firing.plans.selectors.fact_kinds import BookingFact
from tests import make
from tests.make import NOW

DAY = dt.timedelta(days=1)


@pytest.fixture
def piece(cast):
    return make.piece(studio=cast.studio, glass=cast.glass, title="Reed bed")


def told(cast, *changes):
    option = {"changes": list(changes)}
    return changes_words(option, viewer=cast.viewer(), now=NOW)


def spot(kiln, days):
    return [kiln.pk, (NOW + days * DAY).isoformat()]


def moved(piece, what, before, after, *, number=0):
    row = {"piece": piece.pk, "what": what, "before": before, "after": after}
    return row | ({"layer": piece.layers.get(number=number).pk} if number else {})


def delivered(piece, before, after):
    return moved(piece, "delivery", before, after)


def test_nothing_changed_is_nothing_said(cast):
    assert told(cast) == []


def test_layers_that_move_together_are_told_together(cast, piece):
    before, after = spot(cast.kiln, 1), spot(cast.kiln, 2)
    (found,) = told(
        cast,
        moved(piece, "firing", before, after, number=2),
        moved(piece, "firing", before, after, number=1),
    )
    assert found.title == "Reed bed"
    kiln = cast.kiln.name
    assert found.lines == (
        f"Layers 1, 2: from {kiln}, tomorrow 04:00 to {kiln}, Fri 04:00.",
    )
    assert found.delivery == ""


def test_what_is_new_or_gone_says_so(cast, piece):
    there, kiln = spot(cast.kiln, 1), cast.kiln.name
    (found,) = told(
        cast,
        moved(piece, "firing", None, there, number=1),
        moved(piece, "firing", there, None, number=2),
        moved(piece, "fuse", None, there),
    )
    assert sorted(found.lines) == [
        f"Layer 1: new, in {kiln}, tomorrow 04:00.",
        f"Layer 2: no longer in {kiln}, tomorrow 04:00.",
        f"The firing of the stack: new, in {kiln}, tomorrow 04:00.",
    ]


def test_each_piece_is_told_once_in_the_order_of_the_rows(cast, piece):
    other = make.piece(studio=cast.studio, glass=cast.glass, title="Weir")
    found = told(
        cast,
        delivered(other, None, "2026-03-20"),
        moved(piece, "fuse", None, spot(cast.kiln, 1)),
        moved(other, "fuse", None, spot(cast.kiln, 3)),
    )
    assert [(one.piece, one.title) for one in found] == [
        (piece.pk, "Reed bed"),
        (other.pk, "Weir"),
    ]
    assert [len(one.lines) for one in found] == [1, 1]
    assert found[0].delivery == ""


@pytest.mark.parametrize(
    ("before", "after", "words", "is_late"),
    [
        (None, "2026-03-20", "Ready Fri 20 Mar 2026, {}: 2 days late.", True),
        (
            "2026-03-20",
            "2026-03-17",
            "Ready Tue 17 Mar 2026 instead of Fri 20 Mar 2026, {}: 1 day in hand.",
            False,
        ),
        ("2026-03-20", None, "No longer in the plan.", False),
    ],
)
def test_the_day_it_is_ready_stands_beside_the_promised_one(
    cast, piece, before, after, words, is_late
):
    make.promised(piece, dt.date(2026, 3, 18))
    (found,) = told(cast, delivered(piece, before, after))
    assert found.delivery == words.format("promised for Wed 18 Mar 2026")
    assert found.is_late is is_late


def work(piece, person, start):
    row = {"piece": piece.pk, "what": "work", "before": None}
    return row | {"after": [person, start and start.isoformat()]}


def test_peoples_work_at_other_hours_is_counted_with_the_first_of_it(cast, piece):
    (found,) = told(
        cast,
        work(piece, cast.maker.pk, NOW + 2 * DAY),
        work(piece, cast.maker.pk, NOW + DAY),
        work(piece, cast.helper.pk, None),
        work(piece, 0, NOW + DAY),
    )
    assert found.lines == (
        "Somebody: 1 task at other hours, the first now tomorrow 04:00.",
        f"{cast.maker}: 2 tasks at other hours, the first now tomorrow 04:00.",
    )


FEW = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
SECONDS = st.integers(-90, 90)


def says_the_same_twice(told: str) -> bool:
    """Return whether a sentence gives one place or day for another that reads alike."""
    for link in (" instead of ", " to "):
        head, _, tail = told.rstrip(".").partition(link)
        tail = tail.partition(", promised")[0]
        if tail and head.endswith(tail):
            return True
    return False


@FEW
@given(seconds=SECONDS, days=st.integers(-1, 1))
def test_what_reads_the_same_before_and_after_is_not_said(cast, piece, seconds, days):
    before = spot(cast.kiln, 1)
    after = [cast.kiln.pk, (NOW + DAY + dt.timedelta(seconds=seconds)).isoformat()]
    due = dt.date(2026, 3, 20)
    found = told(
        cast,
        moved(piece, "firing", before, after, number=1),
        moved(piece, "fuse", before, after),
        delivered(piece, f"{due}", f"{due + dt.timedelta(days=days)}"),
        {**work(piece, cast.maker.pk, NOW), "before": [cast.maker.pk, NOW.isoformat()]},
    )
    reads_alike = 0 <= seconds < 60
    assert bool(found) is (not reads_alike or days != 0)
    for one in found:
        assert bool(one.lines) is not reads_alike
        assert bool(one.delivery) is (days != 0)
        assert not any(map(says_the_same_twice, (*one.lines, one.delivery)))


def booking_fact(kiln, starts_at, ends_at):
    return BookingFact(
        pk=1,
        kiln=kiln.pk,
        starts_at=starts_at,
        ends_at=ends_at,
        is_provisional=False,
        is_running=False,
        is_planned=False,
        is_maintenance=False,
        title="Bowls",
        kiln_name=kiln.name,
    )


@FEW
@given(starts=SECONDS, ends=SECONDS)
def test_a_booking_that_reads_the_same_is_no_change(cast, starts, ends):
    times = (NOW + DAY, NOW + 2 * DAY)
    shifted = [
        at + dt.timedelta(seconds=by)
        for at, by in zip(times, (starts, ends), strict=True)
    ]
    before, after = (
        {("booking", 1): booking_fact(cast.kiln, *span)} for span in (times, shifted)
    )
    found = changes_between(before, after, viewer=cast.viewer(), now=NOW)
    reads_alike = 0 <= starts < 60 and 0 <= ends < 60
    assert bool(found) is not reads_alike
    assert not any(map(says_the_same_twice, found))
    assert events_between(before, after, viewer=cast.viewer(), now=NOW) == []
