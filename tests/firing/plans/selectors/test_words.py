"""Plans in words: counts, days late, and how far from the best that could be."""

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import pytest

from firing.planning.search.progress import Progress
from firing.plans.selectors.words import (
    due_words,
    late_words,
    layer_words,
    progress_words,
    quality_words,
)

DAY = dt.date(2026, 3, 6)
PROGRESS = Progress(
    undelivered=0,
    weighted_days_late=3,
    kwh=412.4,
    least_days_late=1,
    least_kwh=399.6,
    tries=120,
    share=0.25,
)


def test_one_day_is_one_and_none_is_nothing():
    assert late_words(0) == "nothing late"
    assert late_words(1) == "1 day late in all"


def test_layers_are_named_once_and_in_order():
    assert layer_words([3]) == "layer 3"
    assert layer_words([7, 3, 4, 3]) == "layers 3, 4, 7"


@pytest.mark.parametrize(
    ("due", "expected"),
    [
        (None, ("no date promised", False)),
        (DAY, ("promised for Fri 6 Mar 2026: just in time", False)),
        (
            DAY - dt.timedelta(days=1),
            ("promised for Thu 5 Mar 2026: 1 day late", True),
        ),
        (
            DAY + dt.timedelta(days=2),
            ("promised for Sun 8 Mar 2026: 2 days in hand", False),
        ),
    ],
)
def test_a_day_stands_to_the_promised_one(due, expected):
    assert due_words(DAY, due) == expected


def test_a_search_tells_its_best_and_its_bound():
    assert progress_words(PROGRESS) == (
        "Best so far: 3 days late in all, 412 kWh. No plan can be better than at least "
        "1 day late, 400 kWh. 120 tries, 25 % of the search"
    )
    nowhere = progress_words(replace(PROGRESS, undelivered=2, least_days_late=0))
    assert nowhere.startswith("Best so far: 2 pieces without a place so far.")
    assert "better than nothing late" in nowhere
    assert len(progress_words(replace(PROGRESS, tries=10**9, kwh=10**6))) <= 200


def quality(days, *, least=0, is_proved=False, is_stopped=False, is_first=True):
    option = {"verdict": {"days_late": days, "kwh": 400.4}}
    plan = SimpleNamespace(
        options=[option if is_first else {}],
        is_proved_best=is_proved,
        least_days_late=least,
        least_kwh=380.0,
        was_stopped=is_stopped,
    )
    return quality_words(plan, option)


def test_only_a_proved_plan_is_called_the_best():
    assert quality(2, least=2, is_proved=True) == [
        "2 days late in all, 400 kWh.",
        "No plan can be better than this one.",
    ]
    assert quality(2, least=2, is_proved=True, is_first=False)[1] == (
        "No plan can be less late."
    )


def test_what_is_not_known_is_said():
    assert quality(3, least=1)[1] == (
        "No plan can be less than 1 day late in all; whether one between exists is not "
        "known."
    )
    assert quality(3)[1].startswith("That nothing is late has not been ruled out;")
    assert quality(0) == [
        "Nothing late, 400 kWh.",
        "No plan can be less late.",
        "No plan can need less than 380 kWh.",
    ]
    assert quality(0, is_stopped=True)[-1].startswith("The search was stopped;")
