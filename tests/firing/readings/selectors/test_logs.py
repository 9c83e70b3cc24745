"""What must be asked about a controller's file: only what it does not tell."""

from zoneinfo import ZoneInfo

import pytest

from firing.readings.selectors.logs import open_questions
from tests.make import NOW

CLEAR = "Seconds,Temp (°C)\n0,20.5\n60,21\n"


def asked(text, **said):
    return open_questions(
        text.encode(), started_at=NOW, zone=ZoneInfo("Europe/Lisbon"), said=said
    )


def test_a_file_that_says_everything_asks_nothing():
    assert asked(CLEAR) == []


@pytest.mark.parametrize(
    ("text", "questions"),
    [
        ("Seconds,Temp\n0,20.5\n60,21\n", ["unit"]),
        ("Elapsed,Temp (°C)\n0,20.5\n60,21\n", ["elapsed_unit"]),
        ("Elapsed,Temp\n0,20.5\n60,21\n", ["unit", "elapsed_unit"]),
        (
            "Time,Temp (°C)\n03/04/2026 09:00,20.5\n03/04/2026 09:01,21\n",
            ["date_order"],
        ),
    ],
)
def test_what_a_file_leaves_open_is_asked(text, questions):
    assert sorted(asked(text)) == sorted(questions)


def test_what_was_answered_is_not_asked_again_and_an_empty_answer_is_none():
    text = "Elapsed,Temp\n0,20.5\n60,21\n"
    assert asked(text, unit="C") == ["elapsed_unit"]
    assert asked(text, unit="C", elapsed_unit="min") == []
    assert asked(text, unit="", elapsed_unit="min") == ["unit"]


def test_what_no_answer_can_mend_asks_nothing():
    assert asked("no table at all") == []
