import itertools
import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from firing.drawings.chart import build_chart
from firing.drawings.chart_input import (
    NARROW,
    WIDE,
    ChartAlarm,
    ChartCurve,
    ChartHold,
    ChartInput,
    ChartScale,
)

START = datetime(2026, 3, 16, 13, tzinfo=UTC)
ZONE = ZoneInfo("America/New_York")
PAIR = re.compile(r"(-?\d+\.\d),(-?\d+\.\d)")
CELSIUS = ChartScale(
    to_viewer=lambda c: c, from_viewer=lambda c: c, text=lambda c: f"{c:.0f} °C"
)
FAHRENHEIT = ChartScale(
    to_viewer=lambda c: c * 9 / 5 + 32,
    from_viewer=lambda f: (f - 32) * 5 / 9,
    text=lambda c: f"{c * 9 / 5 + 32:.0f} °F",
)


def curve(times, heats):
    return ChartCurve(
        time_s=np.asarray(times, dtype=float),
        temperature_c=np.asarray(heats, dtype=float),
    )


PLANNED = curve([0, 8 * 3600, 10 * 3600, 100 * 3600], [20, 815, 482, 50])


def chart(size=WIDE, **more):
    values = {
        "title": "Full fuse",
        "starts_at": START,
        "zone": ZONE,
        "scale": CELSIUS,
        "show_when": lambda at: f"{at.astimezone(ZONE):%a %H:%M}",
        "planned": PLANNED,
    }
    return build_chart(ChartInput(**{**values, **more}), key="k", size=size)


def test_a_hundred_thousand_readings_become_few_points_and_keep_the_peak():
    seconds = np.linspace(0, 100 * 3600, 100_000)
    heats = np.interp(seconds, PLANNED.time_s, PLANNED.temperature_c)
    heats[55_555] = 840.0
    drawn = chart(recorded=curve(seconds, heats))
    assert drawn.drawn_readings <= 1600
    (path,) = drawn.recorded_paths
    heights = [float(y) for _, y in PAIR.findall(path)]
    x_of_peak = [float(x) for x, _ in PAIR.findall(path)][heights.index(min(heights))]
    expected = drawn.left + seconds[55_555] / seconds[-1] * drawn.plot_width
    assert x_of_peak == pytest.approx(expected, abs=0.2)


@pytest.mark.parametrize("size", [WIDE, NARROW])
def test_curves_stay_inside_the_plot(size):
    drawn = chart(size=size, recorded=PLANNED)
    for path in (drawn.planned_path, drawn.planned_area, *drawn.recorded_paths):
        for x, y in PAIR.findall(path):
            assert drawn.left - 0.1 <= float(x) <= drawn.right + 0.1
            assert drawn.top - 0.1 <= float(y) <= drawn.bottom + 0.1


def test_a_long_gap_breaks_the_line_and_is_told():
    seconds = [0, 60, 120, 10_000, 10_060]
    drawn = chart(recorded=curve(seconds, [20, 21, 22, 90, 91]))
    assert len(drawn.recorded_paths) == 2
    assert [len(PAIR.findall(path)) for path in drawn.recorded_paths] == [3, 2]
    (gap,) = drawn.gaps
    assert gap.width > 0
    assert "No readings from Mon 09:02 to Mon 11:46." in drawn.facts


def test_a_short_gap_does_not_break_the_line():
    drawn = chart(recorded=curve([0, 60, 1800], [20, 21, 22]))
    assert len(drawn.recorded_paths) == 1
    assert drawn.gaps == ()


def test_a_lone_reading_is_a_dot():
    drawn = chart(recorded=curve([3600], [100]))
    (path,) = drawn.recorded_paths
    first, second = PAIR.findall(path)
    assert first == second


def test_ticks_are_round_in_the_readers_unit():
    for scale, unit in ((CELSIUS, "°C"), (FAHRENHEIT, "°F")):
        ticks = chart(scale=scale).temperature_ticks
        assert 3 <= len(ticks) <= 8
        for tick in ticks:
            number, written = tick.label.split()
            assert written == unit
            assert int(number) % 50 == 0
        places = [tick.at for tick in ticks]
        assert places == sorted(places, reverse=True)


@pytest.mark.parametrize("size", [WIDE, NARROW])
def test_no_time_is_cut_off_at_the_right_edge(size):
    for hours in range(60, 140):
        drawn = chart(size=size, planned=curve([0, hours * 3600], [20, 50]))
        for tick in drawn.time_ticks:
            half = len(tick.label) * 6.7 / 2
            assert tick.label_at + half <= drawn.width
            assert tick.label_at <= tick.at <= tick.label_at + half


def test_time_ticks_have_room_and_name_days_at_the_studios_midnight():
    for size in (WIDE, NARROW):
        ticks = chart(size=size).time_ticks
        assert len(ticks) >= 3
        assert all(b.at - a.at >= 50 for a, b in itertools.pairwise(ticks))
    days = [tick for tick in chart().time_ticks if ":" not in tick.label]
    assert [tick.label for tick in days] == ["Tue 17", "Wed 18", "Thu 19", "Fri 20"]
    midnight = datetime(2026, 3, 17, 0, tzinfo=ZONE)
    share = (midnight - START) / timedelta(hours=100)
    drawn = chart()
    assert days[0].at == pytest.approx(drawn.left + share * drawn.plot_width, abs=0.1)


def test_zooming_cuts_the_curve_and_refines_the_ticks():
    drawn = chart(window_s=(6 * 3600, 12 * 3600))
    xs = [float(x) for x, _ in PAIR.findall(drawn.planned_path)]
    assert xs[0] == pytest.approx(drawn.left)
    assert xs[-1] == pytest.approx(drawn.right)
    assert {tick.label for tick in drawn.time_ticks} >= {"15:00", "16:00", "17:00"}


def test_hold_words_never_lie_over_each_other():
    holds = tuple(
        ChartHold(
            from_s=h * 3600.0,
            to_s=(h + 1) * 3600.0,
            temperature_c=482,
            words=f"Hold number {h}, one hour",
        )
        for h in range(10, 20)
    )
    drawn = chart(size=NARROW, holds=holds)
    boxes = [(p.x, p.x + len(p.words) * 6, p.y) for p in drawn.holds]
    assert 1 <= len(boxes) < 10
    for i, one in enumerate(boxes):
        for other in boxes[i + 1 :]:
            apart = one[1] <= other[0] or other[1] <= one[0]
            assert apart or abs(one[2] - other[2]) >= 15
    # What found no place in the drawing is still told in words.
    assert sum("one hour" in fact for fact in drawn.facts) == 10


def test_hold_words_run_away_from_the_steep_side():
    climbing = ChartHold(
        from_s=2 * 3600, to_s=3 * 3600, temperature_c=200, words="Drying, 1 h"
    )
    falling = ChartHold(
        from_s=10 * 3600, to_s=16 * 3600, temperature_c=482, words="Anneal soak, 6 h"
    )
    drawn = chart(holds=(climbing, falling), window_s=(0, 20 * 3600))
    dry, soak = drawn.holds
    hour = drawn.plot_width / 20
    assert dry.x + len(dry.words) * 6 <= drawn.left + 3 * hour
    assert soak.x >= drawn.left + 10 * hour


def test_the_annealing_range_is_a_band_the_right_way_up():
    drawn = chart(anneal_range_c=(371, 482))
    assert drawn.anneal_y is not None
    assert drawn.top < drawn.anneal_y < drawn.anneal_bottom < drawn.bottom


def test_alarms_outside_the_window_are_not_drawn_but_told():
    alarms = (
        ChartAlarm(at_s=7 * 3600, words="Too fast", temperature_c=700),
        ChartAlarm(at_s=50 * 3600, words="Power cut"),
    )
    drawn = chart(alarms=alarms, window_s=(0, 10 * 3600))
    assert [alarm.words for alarm in drawn.alarms] == ["Too fast"]
    assert "Wed 11:00: Power cut." in drawn.facts


def test_a_chart_with_nothing_yet_says_so():
    drawn = chart(planned=None)
    assert drawn.facts == ("No temperatures yet.",)
    assert drawn.planned_path == ""
    assert drawn.recorded_paths == ()


def test_an_empty_window_is_refused():
    with pytest.raises(ValueError, match="window"):
        chart(window_s=(10, 10))
