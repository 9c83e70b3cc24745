"""A firing chart in sentences, for those who do not see it."""

from datetime import UTC, datetime

import numpy as np

from firing.drawings.chart_input import (
    ChartAlarm,
    ChartCurve,
    ChartCut,
    ChartHold,
    ChartInput,
    ChartScale,
    NamedCurve,
)
from firing.drawings.chart_words import facts_of, stretch_words, stretches

HOUR = 3600.0


def shown(**more):
    return ChartInput(
        title="Full fuse",
        starts_at=datetime(2026, 3, 16, 13, tzinfo=UTC),
        zone=UTC,
        scale=ChartScale(
            to_viewer=lambda c: c,
            from_viewer=lambda c: c,
            text=lambda c: f"{c:.0f} °C",
        ),
        show_when=lambda at: f"{at:%a %H:%M}",
        **more,
    )


def curve(hours, heats):
    return np.array(hours, dtype=float) * HOUR, np.array(heats, dtype=float)


EMPTY = (np.empty(0), np.empty(0))


def test_everything_that_is_drawn_is_said_in_its_order():
    plan, record = curve([0, 8, 30], [20, 815, 50]), curve([0, 8, 12], [21, 810, 480])
    other = curve([0, 40], [20, 50])
    given = shown(
        planned=ChartCurve(time_s=plan[0], temperature_c=plan[1]),
        compared=[NamedCurve(name="Next row", time_s=other[0], temperature_c=other[1])],
        anneal_range_c=(371, 482),
        holds=[
            ChartHold(from_s=8 * HOUR, to_s=9 * HOUR, temperature_c=815, words="Fuse")
        ],
        alarms=[ChartAlarm(at_s=10 * HOUR, words="Power cut")],
        longest_gap_s=5 * HOUR,
    )
    assert facts_of(given, plan, record, [other]) == (
        "Planned from Mon 13:00 to Tue 19:00, highest 815 °C at Mon 21:00.",
        "Next row from Mon 13:00 to Wed 05:00, highest 50 °C at Wed 05:00.",
        "Recorded from Mon 13:00 to Tue 01:00, highest 810 °C at Mon 21:00.",
        "The annealing range is 371 °C to 482 °C.",
        "Fuse, from Mon 21:00.",
        "No readings from Mon 13:00 to Mon 21:00.",
        "Mon 23:00: Power cut.",
    )


def test_nothing_yet_is_said():
    assert facts_of(shown(), EMPTY, EMPTY, []) == ("No temperatures yet.",)


def test_a_gap_is_named_by_what_is_known_of_it():
    times = np.array([0, 1, 3, 4, 40, 41]) * HOUR
    cut = ChartCut(from_s=1.5 * HOUR, to_s=3.5 * HOUR, words="Power cut")
    given = shown(cuts=[cut], longest_gap_s=1.5 * HOUR)
    assert [stretch_words(given, one) for one in stretches(given, times)] == [
        "Power cut 14:00 to 16:30",
        "No readings Mon 17:00 to Wed 05:00",
    ]
    alone = stretches(given, np.arange(20) * HOUR)
    assert [stretch_words(given, one) for one in alone] == ["Power cut 14:30 to 16:30"]
