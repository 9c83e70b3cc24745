"""A verdict on a move, in words and for the script that draws it."""

import datetime as dt
from types import SimpleNamespace

import pytest

from firing.kiln_time.selectors.move_words import drawn, nearest_words, span_words
from firing.kiln_time.selectors.moving import SNAP, MoveVerdict
from tests.make import NOW

HOUR = dt.timedelta(hours=1)


class Named(SimpleNamespace):
    def __str__(self):
        return self.name


def verdict(*, kiln=2, starts_in=30, opens=False, **changes):
    starts_at = NOW + starts_in * HOUR
    facts = {
        "booking": SimpleNamespace(kiln_id=1, starts_at=NOW + 30 * HOUR),
        "kiln": Named(pk=kiln, name="Heron"),
        "starts_at": starts_at,
        "ends_at": starts_at + 20 * HOUR,
        "opens_at": starts_at + 19 * HOUR if opens else None,
        "problems": (),
        "nearest": None,
        "consequences": (),
        "placement": None,
    }
    return MoveVerdict(**(facts | changes))


@pytest.fixture
def said(strangers):
    return {"viewer": strangers.viewer(), "now": NOW}


def test_where_and_when_it_would_be(said):
    assert span_words(verdict(), **said) == "Heron, tomorrow 15:00 to Fri 11:00"
    assert span_words(verdict(opens=True), **said).endswith(
        "to Fri 11:00, may be opened Fri 10:00"
    )


def test_the_nearest_start_is_told_only_where_the_asked_one_is_refused(said):
    near = NOW + 48 * HOUR
    assert nearest_words(verdict(nearest=near), **said) == ""
    refused = verdict(problems=("It is taken.",), nearest=near)
    assert nearest_words(refused, **said) == "The nearest start is Fri 09:00."
    assert nearest_words(verdict(problems=("No.",)), **said) == (
        "Heron has no room for it within half a year."
    )


def test_a_permitted_move_says_what_follows_or_that_nothing_does(said):
    found = drawn(verdict(), **said)
    assert found["permitted"]
    assert found["words"] == "It can go there."
    assert found["snap"] == found["starts"] == (NOW + 30 * HOUR).timestamp()
    assert found["ends"] - found["starts"] == 20 * 3600
    late = drawn(verdict(consequences=("Ebb comes later.",)), **said)
    assert late["words"] == "Ebb comes later."


def test_what_did_not_move_says_only_that(said):
    assert drawn(verdict(kiln=1), **said)["words"] == "That is where it is."
    moved = drawn(verdict(kiln=1, starts_in=31), **said)
    assert moved["words"] == "It can go there."


@pytest.mark.parametrize(
    ("off", "snaps"), [(SNAP, True), (-SNAP, True), (SNAP + HOUR, False)]
)
def test_a_drop_goes_to_the_nearest_start_unless_that_is_far(said, off, snaps):
    near = NOW + 30 * HOUR + off
    found = drawn(verdict(problems=("Taken.",), nearest=near), **said)
    assert found["snap"] == (near.timestamp() if snaps else None)
    assert found["words"].startswith("Taken. The nearest start is ")
