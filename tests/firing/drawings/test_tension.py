import itertools
import re
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from django.template.loader import render_to_string
from hypothesis import given
from hypothesis import strategies as st

from firing.drawings.chart import build_chart
from firing.drawings.chart_input import (
    NARROW,
    WIDE,
    ChartCurve,
    ChartInput,
    ChartScale,
    NamedCurve,
)
from firing.drawings.labels import box_of, meets, overlap
from firing.drawings.paper_style import drawing_style
from firing.drawings.tension import (
    BOLD_LETTER_WIDTH,
    HEADROOM,
    NEAR,
    TensionBand,
    TensionInput,
    TensionSeries,
    build_tension_chart,
)

START = datetime(2026, 3, 16, 13, tzinfo=UTC)
ZONE = ZoneInfo("America/New_York")
PAIR = re.compile(r"(-?\d+\.\d),(-?\d+\.\d)")
HOUR = 3600.0
PLANNED = ChartCurve(
    time_s=np.array([0, 8, 10, 100]) * HOUR,
    temperature_c=np.array([20.0, 815, 482, 50]),
)


def when(at):
    return f"{at.astimezone(ZONE):%a %H:%M}"


def above(size=WIDE, **more):
    return build_chart(
        ChartInput(
            title="Full fuse",
            starts_at=START,
            zone=ZONE,
            scale=ChartScale(
                to_viewer=lambda c: c,
                from_viewer=lambda c: c,
                text=lambda c: f"{c:.0f} °C",
            ),
            show_when=when,
            planned=PLANNED,
            **more,
        ),
        key="k",
        size=size,
    )


def series(hours, mpa, name="proposed"):
    return TensionSeries(
        name=name,
        time_s=np.asarray(hours, dtype=float) * HOUR,
        tension_pa=np.asarray(mpa, dtype=float) * 1e6,
    )


def tension(*all_series, under=None, **more):
    return build_tension_chart(
        TensionInput(
            title="Tension",
            starts_at=START,
            show_when=when,
            series=all_series,
            **more,
        ),
        under=under or above(),
    )


CALM = series([0, 4, 10, 50, 100], [0, 2.1, 0, 0.9, 0.3])


@pytest.mark.parametrize("size", [WIDE, NARROW])
@pytest.mark.parametrize("window_s", [None, (10 * HOUR, 40 * HOUR)])
def test_the_same_moment_is_at_the_same_x_in_both_drawings(size, window_s):
    chart = above(size, window_s=window_s)
    # One step in both curves, at one time.
    drawn = tension(series([0, 20, 20, 100], [0, 0, 2, 2]), under=chart)
    assert (drawn.width, drawn.left, drawn.right) == (
        chart.width,
        chart.left,
        chart.right,
    )
    assert drawn.time_ticks == chart.time_ticks
    steps = [float(x) for x, y in PAIR.findall(drawn.lines[0].path)]
    expected = chart.left + chart.plot_width * (20 * HOUR - chart.from_s) / (
        chart.to_s - chart.from_s
    )
    assert steps.count(round(expected, 1)) == 2
    assert min(steps) == pytest.approx(chart.left, abs=0.1)
    assert max(steps) == pytest.approx(chart.right, abs=0.1)


def test_the_limit_and_the_warning_lie_where_their_tension_is():
    drawn = tension(CALM)
    per_mpa = (drawn.bottom - drawn.limit.y) / 3
    assert (drawn.bottom - drawn.stays.y) / 0.5 == pytest.approx(per_mpa, abs=0.1)
    assert drawn.limit.words == "limit 3 MPa"
    assert drawn.stays.words == "once cold 0.5 MPa"
    assert drawn.stays.x > drawn.left + drawn.plot_width / 2, "at the cold end"
    assert drawn.warning.words == "may crack above 7 MPa"
    top = min(float(y) for _, y in PAIR.findall(drawn.lines[0].path))
    assert (drawn.bottom - top) / 2.1 == pytest.approx(per_mpa, abs=0.1)


def test_own_limits_are_drawn_and_told():
    drawn = tension(CALM, limit_pa=2e6, warning_pa=5e6)
    assert drawn.limit.words == "limit 2 MPa"
    assert drawn.facts[0] == (
        "proposed: highest tension 2.1 MPa, Mon 13:00, over the limit of 2.0 MPa."
    )
    assert drawn.facts[1].startswith("proposed: over the limit from Mon 13:00")


def test_within_the_limit_says_so():
    assert tension(CALM).facts == (
        "proposed: highest tension 2.1 MPa, Mon 13:00, within the limit of 3.0 MPa.",
    )


@pytest.mark.parametrize("mpa", [3.0, 7.5, 15.0, 80.0])
def test_words_of_the_two_lines_never_cover_each_other(mpa):
    drawn = tension(series([0, 4, 8], [0, mpa, 0]))
    one, other = (
        box_of(level.label.x, level.label.y, level.words)
        for level in (drawn.limit, drawn.warning)
    )
    assert not overlap(one, other)
    assert drawn.top <= drawn.warning.y < drawn.limit.y < drawn.bottom
    for _, y in PAIR.findall(drawn.lines[0].path):
        assert drawn.top - 0.1 <= float(y) <= drawn.bottom + 0.1


def test_a_limit_far_over_the_data_is_at_the_edge_with_an_arrow():
    drawn = tension(series([0, 4, 8], [0, 0.4, 0]))
    for level in (drawn.limit, drawn.warning):
        assert level.is_beyond
        assert (level.y, level.label.words) == (drawn.top, level.words)
    assert not drawn.stays.is_beyond, "near enough to be drawn in its place"
    html = render_to_string("components/_tension_chart.html", {"tension": drawn})
    assert html.count("tension-arrow") == 2


def test_the_cold_end_has_its_limit_only_where_it_is_shown():
    assert tension(CALM, under=above(window_s=(0, 40 * HOUR))).stays is None
    assert tension(CALM, under=above(window_s=(40 * HOUR, 100 * HOUR))).stays


@st.composite
def courses(draw):
    """Return a chart of up to three invented courses, one with a band."""
    found = []
    for name in "abc"[: draw(st.integers(1, 3))]:
        hours = np.sort(draw(st.lists(st.floats(0, 100), min_size=2, max_size=12)))
        scale = draw(st.sampled_from([0.01, 0.3, 1.0, 5.0, 60.0]))
        mpa = np.array([draw(st.floats(0, 1)) * scale for _ in hours])
        one = series(hours, mpa, name)
        if not found:
            band = TensionBand(
                time_s=one.time_s,
                low_pa=one.tension_pa * 0.6,
                high_pa=one.tension_pa * 1.4,
            )
            one = replace(one, band=band)
        found.append(one)
    size = draw(st.sampled_from([WIDE, NARROW]))
    return found, tension(*found, under=above(size))


@given(course=courses())
def test_the_scale_holds_all_data_and_every_limit_is_told(course):
    shown, drawn = course
    for one in shown:
        assert one.tension_pa.max() <= drawn.most_pa
    assert shown[0].band.high_pa.max() <= drawn.most_pa
    highest = max(
        shown[0].band.high_pa.max(), *(one.tension_pa.max() for one in shown), 0.05e6
    )
    assert drawn.most_pa <= highest * NEAR * HEADROOM * 1.001, "scaled to the data"
    levels = (drawn.limit, drawn.warning, drawn.stays)
    labels = [level.label for level in levels if level.label]
    assert len(labels) + len(drawn.unnamed) == 3, "in the drawing or in its key"
    boxes = [box_of(label.x, label.y, label.words) for label in labels]
    boxes += [
        box_of(line.peak.x, line.peak.y, line.peak.words, BOLD_LETTER_WIDTH)
        for line in drawn.lines
        if line.peak
    ]
    for line in drawn.lines:
        pixels = np.array([(float(x), float(y)) for x, y in PAIR.findall(line.path)]).T
        assert not any(meets(box, (pixels[0], pixels[1]), pad=0.0) for box in boxes)
    assert not any(overlap(*pair) for pair in itertools.combinations(boxes, 2))


def test_many_points_become_few_and_keep_the_peak():
    hours = np.linspace(0, 100, 50_000)
    mpa = np.full(hours.size, 0.5)
    mpa[31_234] = 2.5
    drawn = tension(series(hours, mpa))
    points = PAIR.findall(drawn.lines[0].path)
    assert len(points) <= 1600
    peak_x = min(points, key=lambda pair: float(pair[1]))[0]
    assert float(peak_x) == pytest.approx(
        drawn.left + drawn.plot_width * hours[31_234] / 100, abs=0.2
    )
    assert drawn.lines[0].peak.words == "2.5 MPa"


def test_series_differ_by_dash_and_name_as_the_plans_above():
    later = NamedCurve(
        name="next row",
        time_s=np.array([0, 130]) * HOUR,
        temperature_c=np.array([20.0, 50]),
    )
    chart = above(compared=[later], planned_name="computed")
    assert chart.to_s == 130 * HOUR
    (other,) = chart.compared
    assert (other.name, other.dash) == ("next row", 1)
    assert other.path.startswith("M")
    assert any(fact.startswith("Computed from") for fact in chart.facts)
    assert any(fact.startswith("next row from") for fact in chart.facts)
    drawn = tension(CALM, series([0, 130], [0.2, 0.4], "next row"), under=chart)
    assert [(line.name, line.dash) for line in drawn.lines] == [
        ("proposed", 0),
        ("next row", 1),
    ]
    html = render_to_string("components/_firing_chart.html", {"chart": chart})
    html += render_to_string("components/_tension_chart.html", {"tension": drawn})
    assert html.count("chart-dash-1") == 4  # curve and key, in both
    assert "style=" not in html


def test_nothing_computed_is_said():
    drawn = tension(series([], []))
    assert drawn.lines[0].path == ""
    assert drawn.facts == ("proposed: nothing computed for this part.",)


def test_too_many_series_and_limits_in_the_wrong_order_are_refused():
    with pytest.raises(ValueError, match="at most 4"):
        tension(*[CALM] * 5)
    with pytest.raises(ValueError, match="limit"):
        tension(CALM, limit_pa=8e6)
    curve = NamedCurve(name="x", time_s=np.zeros(1), temperature_c=np.zeros(1))
    with pytest.raises(ValueError, match="at most 3"):
        above(compared=[curve] * 4)


def test_curves_that_lie_on_each_other_have_one_value_between_them():
    one, same = (series([0, 5, 10], [0.0, 1.0, 0.0], name=n) for n in ("a", "b"))
    later = series([0, 60, 70], [0.0, 1.0, 0.0], name="c")
    peaks = [line.peak and line.peak.words for line in tension(one, same, later).lines]
    assert peaks == ["1.0 MPa", None, "1.0 MPa"]


def test_a_band_that_reads_as_its_middle_is_not_said_twice():
    times = np.array([0, 5, 10]) * HOUR
    middle = np.array([0.0, 0.031, 0.0]) * 1e6
    banded = TensionSeries(
        name="proposed",
        time_s=times,
        tension_pa=middle,
        band=TensionBand(time_s=times, low_pa=middle * 0.95, high_pa=middle * 1.05),
    )
    assert tension(banded).lines[0].peak.words == "0.03 MPa"


def test_on_paper_words_stand_on_what_parts_them_from_the_lines():
    drawn = tension(series([0, 5, 10], [0.0, 1.0, 0.0]))
    screen, paper = (
        render_to_string("components/_tension_chart.html", {"tension": drawn} | style)
        for style in ({}, {"print_style": drawing_style()})
    )
    assert "chart-under" not in screen
    under, over = 'tension-words chart-under"', 'tension-words chart-halo"'
    assert paper.count(under) == paper.count(over) == 3
    assert paper.index(under) < paper.index(over)
    assert ".chart-under{" in paper
    assert ".chart-halo{" not in paper, "it would hide the words"


def test_the_band_is_drawn_from_lowest_to_highest_and_told():
    hours = np.array([0, 5, 10, 100]) * HOUR
    given = series([0, 5, 10, 100], [0.1, 1.0, 0.4, 0.0])
    banded = TensionSeries(
        name=given.name,
        time_s=given.time_s,
        tension_pa=given.tension_pa,
        band=TensionBand(
            time_s=hours,
            low_pa=np.array([0.05, 0.8, 0.3, 0.0]) * 1e6,
            high_pa=np.array([0.2, 3.4, 0.6, 0.1]) * 1e6,
        ),
    )
    drawn, bare = tension(banded), tension(given)
    assert bare.lines[0].band_path == ""
    assert bare.lines[0].peak.words == "1.0 MPa"
    assert drawn.lines[0].peak.words == "1.0, up to 3.4 MPa"
    assert drawn.lines[0].peak.y < min(
        float(y) for _, y in PAIR.findall(drawn.lines[0].band_path)
    ), "above the band"
    pairs = [(float(x), float(y)) for x, y in PAIR.findall(drawn.lines[0].band_path)]
    assert len(pairs) == 8, "along the top and back along the foot"
    assert pairs[0][0] == pairs[-1][0] == drawn.left
    assert min(y for _, y in pairs) < min(
        float(y) for _, y in PAIR.findall(drawn.lines[0].path)
    )
    assert "Likely up to 3.4 MPa, over the limit of 3.0 MPa" in drawn.facts[0]
    assert drawn.facts[1] == (
        "proposed: perhaps over the limit from Mon 14:00 to Mon 14:00."
    )
    html = render_to_string("components/_tension_chart.html", {"tension": drawn})
    assert "likely range" in html


@pytest.mark.parametrize("size", [WIDE, NARROW])
@pytest.mark.parametrize("later_h", [20, 24, 30, 50])
def test_values_at_peaks_never_cover_each_other(size, later_h):
    def banded(at_h, mpa, high):
        given = series([0, at_h - 2, at_h, at_h + 9, 100], [0, 0, mpa, 0, 0])
        return TensionSeries(
            name=f"at {at_h} h",
            time_s=given.time_s,
            tension_pa=given.tension_pa,
            band=TensionBand(
                time_s=given.time_s,
                low_pa=given.tension_pa * 0.5,
                high_pa=given.tension_pa * high,
            ),
        )

    drawn = tension(banded(20, 1.3, 1.3), banded(later_h, 1.3, 1.4), under=above(size))
    boxes = [
        (one.peak.x, one.peak.y, len(one.peak.words) * BOLD_LETTER_WIDTH)
        for one in drawn.lines
        if one.peak is not None
    ]
    assert boxes, "the first one has room"
    for number, (x, y, width) in enumerate(boxes):
        for other_x, other_y, other_width in boxes[number + 1 :]:
            apart = abs(x - other_x) >= (width + other_width) / 2
            assert apart or abs(y - other_y) >= 12
