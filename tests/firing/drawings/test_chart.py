import itertools
import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

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
from firing.drawings.labels import box_of
from firing.drawings.plot import LETTER_WIDTH

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
    for path in (drawn.planned_path, *drawn.recorded_paths, *drawn.recorded_areas):
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
    assert [name.words for name in drawn.gap_names] == ["No readings 09:02 to 11:46"]
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
            half = len(tick.label) * LETTER_WIDTH / 2
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
    flat = curve(
        [0, 7200, 10800, 21600, 36000, 57600, 90000], [20, 200, 200, 815, 482, 482, 50]
    )
    drawn = chart(planned=flat, holds=(climbing, falling), window_s=(0, 20 * 3600))
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


def places(path):
    return np.array([(float(x), float(y)) for x, y in PAIR.findall(path)]).T


def steps(draw):
    """Return hours and heats of a schedule of flats and ramps, and its flats."""
    hours, heats, flats = [0.0], [20.0], []
    for number in range(draw(st.integers(1, 7))):
        for is_flat in (False, True):
            hours.append(hours[-1] + draw(st.floats(0.2, 30)))
            heats.append(heats[-1] if is_flat else draw(st.floats(20, 850)))
        flats.append(
            ChartHold(
                from_s=hours[-2] * 3600,
                to_s=hours[-1] * 3600,
                temperature_c=heats[-1],
                words=draw(st.sampled_from(["Fuse, 15 min", "Anneal soak, 12 h"]))
                + str(number),
            )
        )
    return np.array(hours) * 3600, np.array(heats), flats


@st.composite
def firings(draw):
    """Return a chart of a firing that did roughly what was planned, with gaps."""
    times, heats, flats = steps(draw)
    seconds = np.linspace(0, times[-1] * draw(st.floats(0.1, 1.3)), 300)
    recorded = np.interp(seconds, times, heats) * draw(st.floats(0.7, 1.1))
    kept = np.ones(300, dtype=bool)
    for first in draw(st.lists(st.integers(5, 290), max_size=3)):
        kept[first : first + draw(st.integers(1, 60))] = False
    return chart(
        size=draw(st.sampled_from([WIDE, NARROW])),
        planned=curve(times, heats),
        recorded=curve(seconds[kept], recorded[kept]),
        holds=flats,
        anneal_range_c=(371, 482),
        alarms=[ChartAlarm(at_s=draw(st.floats(0, float(times[-1]))), words="Too hot")],
    )


@given(drawn=firings())
def test_no_words_meet_a_curve_or_other_words(drawn):
    words = [*drawn.holds, *drawn.gap_names]
    words += [drawn.anneal_label] if drawn.anneal_label else []
    boxes = [box_of(one.x, one.y, one.words) for one in words]
    for path in (drawn.planned_path, *drawn.recorded_paths):
        xs, ys = places(path)
        # Points every half pixel, by another way than the drawing's own.
        for (x0, x1), (y0, y1) in zip(
            itertools.pairwise(xs), itertools.pairwise(ys), strict=True
        ):
            many = max(2, int(2 * max(abs(x1 - x0), abs(y1 - y0))))
            x, y = np.linspace(x0, x1, many), np.linspace(y0, y1, many)
            for left, top, right, bottom in boxes:
                assert not ((x > left) & (x < right) & (y > top) & (y < bottom)).any()
    for one, other in itertools.combinations(boxes, 2):
        assert (
            one[2] <= other[0]
            or other[2] <= one[0]
            or one[3] <= other[1]
            or other[3] <= one[1]
        )


@given(drawn=firings())
def test_what_was_recorded_is_filled_and_nothing_else(drawn):
    assert len(drawn.recorded_areas) == len(drawn.recorded_paths)
    for path, area in zip(drawn.recorded_paths, drawn.recorded_areas, strict=True):
        xs, ys = places(path)
        around_x, around_y = places(area)
        assert np.array_equal(around_x[: xs.size], xs)
        assert np.array_equal(around_y[: ys.size], ys)
        foot = np.round(drawn.bottom, 1)
        assert list(around_y[xs.size :]) == [foot, foot]
        assert list(around_x[xs.size :]) == [xs[-1], xs[0]]
        for gap in drawn.gaps:
            assert xs[-1] <= gap.x + 0.1 or xs[0] >= gap.x + gap.width - 0.1


def test_an_empty_window_is_refused():
    with pytest.raises(ValueError, match="window"):
        chart(window_s=(10, 10))
