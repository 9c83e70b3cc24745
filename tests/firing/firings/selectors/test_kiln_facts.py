"""A kiln in words: how far its display is off, and what it costs."""

import datetime as dt
from decimal import Decimal

import pytest

from firing.firings.selectors.kiln_facts import kiln_facts, offset_words
from tests import make

FOUND = dt.date(2026, 2, 3)


@pytest.mark.parametrize(
    ("kiln", "words"),
    [
        ({}, "the true temperature, to within 5 °C (assumed)"),
        ({"offset_how": "Cones"}, "the true temperature, to within 5 °C (Cones)"),
        # It is hotter than it shows.
        ({"offset_k": 8.0}, "8 °C too little, ± 5 °C"),
        (
            {"offset_k": -3.5, "offset_uncertainty_k": 1.5, "offset_found_on": FOUND},
            "3.5 °C too much, ± 1.5 °C (3 Feb 2026)",
        ),
        (
            {"offset_k": 8.0, "offset_how": " Logger ", "offset_found_on": FOUND},
            "8 °C too little, ± 5 °C (Logger, 3 Feb 2026)",
        ),
    ],
)
def test_what_a_display_is_off_by(strangers, kiln, words):
    made = make.kiln(studio=strangers.studio, **kiln)
    assert offset_words(made, strangers.viewer()) == words


def test_a_difference_is_no_temperature(cast):
    made = make.kiln(studio=cast.studio, offset_k=10)
    assert offset_words(made, cast.viewer()) == "18 °F too little, ± 9 °F"


def test_only_who_may_see_money_is_told_the_rate(cast):
    facts = dict(kiln_facts(cast.kiln, cast.viewer("owner")))
    assert facts["An hour costs"] == "$2.50"
    assert facts["Power"] == "9 kW"
    assert "An hour costs" not in dict(kiln_facts(cast.kiln, cast.viewer("helper")))
    free = make.kiln(studio=cast.studio, hourly_rate=Decimal(0))
    assert "An hour costs" not in dict(kiln_facts(free, cast.viewer("owner")))
