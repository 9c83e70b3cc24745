"""A promise in words: what its margin rests on, and what else is held room for."""

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.planning.problem.cannot import (
    DoesNotFit,
    Door,
    DoorTooShort,
    NoGapForFuse,
    TooMuchLabour,
)
from firing.planning.promises.promise import (
    Guess,
    Margin,
    MovedPiece,
    TrackRecord,
    WithMoves,
)
from firing.plans.selectors.reasons import no_plan_words
from firing.promises.selectors.words import (
    held_words,
    margin_words,
    moves_words,
)

CALENDAR = SimpleNamespace(weeks=26)
SOURCE = SimpleNamespace(calendar=CALENDAR, call=lambda name: f"“{name}”")
MARGIN = Margin(
    day_80=10,
    day_95=12,
    loss_share=0.1,
    fuse_loss_share=0.05,
    mean_labour_ratio=1.25,
    guesses=frozenset(),
)
RECORD = TrackRecord(
    passes_fired=40,
    passes_lost=4,
    fuses_fired=6,
    fuses_lost=0,
    labour_ratios=(1.0, 1.2, 1.3, 1.4, 1.35),
)


def held(count):
    return [
        SimpleNamespace(
            title=f"Work {n}",
            due_date=dt.date(2026, 3, 6),
            until_date=dt.date(2026, 2, n),
        )
        for n in range(1, count + 1)
    ]


def test_the_margin_counts_what_is_on_record():
    lost, labour = margin_words(MARGIN, RECORD, CALENDAR)
    assert "4 of 40 passes and 0 of 6 fuses lost" in lost
    assert "10 % of passes, 5 % of fuses" in lost
    assert labour == "Painting took 125 % of the planned time in 5 finished pieces."
    one = margin_words(MARGIN, replace(RECORD, labour_ratios=(1.25,)), CALENDAR)
    assert one[1].endswith("in 1 finished piece.")


def test_a_thin_record_is_called_a_guess():
    thin = replace(MARGIN, guesses=frozenset(Guess), day_95=None)
    words = margin_words(thin, TrackRecord(), CALENDAR)
    assert [told.split(":")[0] for told in words[1:]] == [
        "Few firings are on record",
        "Too few finished works are on record to reckon with overruns.",
        "95 in 100 lies beyond the next 26 weeks.",
    ]


def test_open_quotes_are_counted_in_words_as_far_as_six():
    assert held_words([]) == ""
    assert held_words(held(1)) == (
        "Kiln time is also held for an open quote: Work 1, promised for Fri 6 Mar "
        "2026, until Sun 1 Feb 2026."
    )
    assert "held for two open quotes: Work 1," in held_words(held(2))
    assert "held for 7 open quotes" in held_words(held(7))


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        (
            TooMuchLabour(piece="P", artist="A", needed=90, has=41, release=0),
            "Painting and stacking need 45 h, and “A” has 20.5 h at the bench in the "
            "next 26 weeks.",
        ),
        (NoGapForFuse(piece="P", needed=240), "Its fuse takes 120 h and fits between"),
        (
            DoesNotFit(piece="P", horizon=8736, enough=None),
            "It does not fit into the next 26 weeks.",
        ),
        (
            DoorTooShort(door=Door.UNLOAD, needed=6, longest=4, piece="P"),
            "Unloading: it takes 3 h; the studio is never open that long (at most 2 h).",
        ),
    ],
)
def test_why_no_day_can_be_given_is_said_in_weeks_and_hours(reason, words):
    assert no_plan_words(reason, SOURCE).startswith(words)


@given(
    st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=1, max_size=4)
)
def test_only_days_that_change_are_said_to_change(days):
    moved = tuple(
        MovedPiece(piece=f"Work {n}", day_before=was, day_after=then, due_day=None)
        for n, (was, then) in enumerate(days)
    )
    first = dt.date(2026, 12, 1)
    calendar = SimpleNamespace(date_of=lambda day: first + dt.timedelta(days=day))
    source = SimpleNamespace(calendar=calendar, call=str)
    told = moves_words(WithMoves(day=3, days_gained=2, moved=moved), "Weir", source)
    assert told.count(" instead of ") == sum(was != then for was, then in days)
    for n, (was, then) in enumerate(days):
        assert (f"Work {n} would" in told) is (was != then)
