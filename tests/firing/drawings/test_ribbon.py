import itertools
import re
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.drawings.ribbon import (
    FINGER,
    PLOT_HEIGHT,
    PLOT_TOP,
    SMALLEST_TARGET,
    RibbonBooking,
    RibbonKiln,
    build_ribbon,
)

START = datetime(2026, 3, 16, tzinfo=UTC)
NUMBER = re.compile(r"(-?\d+\.?\d*),(-?\d+\.?\d*)")


def when(at):
    return f"{at:%a %H:%M}"


def booking(start_h, hours, *, peak_c=815.0, **more):
    starts_at = START + timedelta(hours=start_h)
    heat = ((0, 20.0), (hours * 0.2, peak_c), (hours * 0.3, 482.0), (hours, 50.0))
    values = {
        "title": "Full fuse of Low water",
        "short": "Low water",
        "href": "/firings/1/",
        "starts_at": starts_at,
        "ends_at": starts_at + timedelta(hours=hours),
        "opens_at": starts_at + timedelta(hours=hours),
        "planned": tuple((starts_at + timedelta(hours=h), c) for h, c in heat),
    }
    return RibbonBooking(**{**values, **more})


def ribbon(
    *bookings, days=14, zone=UTC, starts_at=START, now=START, day_width=None, **more
):
    kiln = RibbonKiln(name="Big bell", bookings=bookings, **more)
    wide = {} if day_width is None else {"day_width": day_width}
    return build_ribbon(
        [kiln],
        key="k",
        starts_at=starts_at,
        ends_at=starts_at + timedelta(days=days),
        now=now,
        zone=zone,
        show_when=when,
        show_heat=lambda celsius: f"{celsius:.0f} °C",
        **wide,
    )


@given(
    st.floats(min_value=-200, max_value=400),
    st.floats(min_value=0.5, max_value=300),
    st.floats(min_value=30, max_value=1300),
)
def test_a_shape_never_leaves_its_plot(start_h, hours, peak_c):
    drawn = ribbon(booking(start_h, hours, peak_c=peak_c))
    for shape in drawn.rows[0].shapes:
        assert 0 <= shape.x <= shape.x + shape.width <= drawn.width + 0.01
        assert 0 <= shape.hit_x <= drawn.width - shape.hit_width + 0.01
        assert shape.hit_width >= SMALLEST_TARGET
        for x, y in NUMBER.findall(shape.area_path):
            assert shape.x - 0.1 <= float(x) <= shape.x + shape.width + 0.1
            assert PLOT_TOP - 0.1 <= float(y) <= (PLOT_TOP + PLOT_HEIGHT) + 0.1


def test_a_short_booking_is_as_wide_as_a_finger_where_nothing_is_beside_it():
    (alone,) = ribbon(booking(48, 4)).rows[0].shapes
    assert alone.hit_width == FINGER
    first, second = ribbon(booking(48, 6), booking(56, 6)).rows[0].shapes
    assert SMALLEST_TARGET <= first.hit_width < FINGER
    assert first.hit_x + first.hit_width <= second.hit_x + 0.01


def area_of(path):
    points = [(float(x), float(y)) for x, y in NUMBER.findall(path)]
    return sum(
        (b[0] - a[0]) * ((PLOT_TOP + PLOT_HEIGHT) - (a[1] + b[1]) / 2)
        for a, b in itertools.pairwise(points)
    )


@given(st.floats(min_value=5, max_value=250))
def test_longer_firings_cover_more_area(hours):
    short, long = (
        ribbon(booking(0, h)).rows[0].shapes[0] for h in (hours, hours * 1.2)
    )
    assert 0 < area_of(short.area_path) < area_of(long.area_path)


def test_a_booking_outside_the_window_is_not_drawn():
    assert ribbon(booking(-50, 20), booking(400, 20)).rows[0].shapes == ()


def test_the_link_says_kiln_what_and_when():
    (shape,) = ribbon(booking(9, 101, opens_at=None)).rows[0].shapes
    assert shape.aria_label == (
        "Big bell: Full fuse of Low water, Mon 09:00 to Fri 14:00"
    )


def test_provisional_is_told_in_words_too():
    (shape,) = ribbon(booking(9, 50, is_provisional=True)).rows[0].shapes
    assert shape.is_provisional
    assert shape.aria_label.endswith("provisional")


def test_the_past_is_drawn_as_recorded_the_future_as_planned():
    starts_at = START
    recorded = tuple((starts_at + timedelta(hours=h), 300.0) for h in range(11))
    (shape,) = ribbon(booking(0, 100, recorded=recorded)).rows[0].shapes
    recorded_points = NUMBER.findall(shape.recorded_path)
    assert len({y for _, y in recorded_points}) == 1
    last_x = float(recorded_points[-1][0])
    area = [(float(x), y) for x, y in NUMBER.findall(shape.area_path)]
    past_heights = {y for x, y in area[1:] if x <= last_x}
    assert past_heights == {recorded_points[0][1]}
    assert any(x > last_x for x, _ in area)


def test_a_rental_is_a_plain_span_with_words():
    (shape,) = (
        ribbon(booking(0, 48, planned=(), is_span=True, short="Rented", opens_at=None))
        .rows[0]
        .shapes
    )
    assert shape.is_span
    assert shape.label == "Rented"
    assert shape.area_path == ""


def test_words_use_free_time_but_stop_at_the_next_booking():
    crowded = ribbon(booking(0, 6, short="Enamel, 8 layers"), booking(7, 6))
    alone = ribbon(booking(0, 6, short="Enamel, 8 layers"))
    assert crowded.rows[0].shapes[0].label == ""
    assert alone.rows[0].shapes[0].label == "Enamel, 8 layers"


def test_the_opening_has_a_mark_and_words_where_there_is_room():
    (shape,) = ribbon(booking(0, 48)).rows[0].shapes
    assert shape.open_x == pytest.approx(192)
    assert shape.open_label == "open Wed 00:00"


def test_days_begin_at_the_studios_midnight_even_when_clocks_change():
    zone = ZoneInfo("America/New_York")  # clocks go forward on 8 March 2026
    start = datetime(2026, 3, 7, 5, tzinfo=UTC)
    drawn = ribbon(days=3, zone=zone, starts_at=start, now=start, day_width=240)
    assert [day.x for day in drawn.days] == [0, 240, 470, 710]
    assert [day.label for day in drawn.days] == [
        "Sat 7 Mar",
        "Sun 8",
        "Mon 9",
        "",
    ], "the last midnight has no room for its name"


def test_a_window_given_by_the_local_clock_is_as_long_as_it_really_is():
    zone = ZoneInfo("America/New_York")  # clocks go forward on 8 March 2026
    open_hours = (
        datetime(2026, 3, 9, 8, tzinfo=zone),
        datetime(2026, 3, 9, 20, tzinfo=zone),
    )
    start = datetime(2026, 3, 7, tzinfo=zone)
    drawn = ribbon(
        days=3, zone=zone, starts_at=start, day_width=240, access=(open_hours,)
    )
    assert drawn.width == 710, "71 hours"
    assert drawn.rows[0].access[0].x == 470 + 80, "eight hours after its midnight"


def test_now_is_marked_only_inside_the_window():
    assert ribbon(now=START + timedelta(days=1)).now_x == 96
    assert ribbon(now=START - timedelta(days=1)).now_x is None


def test_a_kiln_without_bookings_is_a_row_of_paper():
    assert ribbon().rows[0].shapes == ()


def test_an_empty_window_and_a_backward_booking_are_refused():
    with pytest.raises(ValueError, match="window"):
        ribbon(days=0)
    backward = booking(10, 5, ends_at=START + timedelta(hours=9))
    with pytest.raises(ValueError, match="ends before"):
        ribbon(backward)


def drawn(days, width, *bookings, access=()):
    now = START + timedelta(days=9)
    width = width / days
    return ribbon(*bookings, days=days, now=now, day_width=width, access=access)


def test_over_months_mondays_are_marked_and_this_week_stands_out():
    marks = drawn(91, 1196).days
    assert [mark.label for mark in marks][:2] == ["16 Mar", "23 Mar"]
    assert [mark.label for mark in marks if mark.is_today] == ["23 Mar"]
    labelled = [mark.x for mark in drawn(91, 356).days if mark.label]
    assert min(b - a for a, b in itertools.pairwise(labelled)) >= 52


@given(st.integers(min_value=1, max_value=120), st.sampled_from([356.0, 1196.0]))
def test_names_of_days_never_meet_and_stay_inside(days, width):
    ribbon_ = drawn(days, width)
    labelled = [mark for mark in ribbon_.days if mark.label]
    ends = [mark.x + 6 * len(mark.label) for mark in labelled]
    assert all(
        end <= after.x + 8 for end, after in zip(ends, labelled[1:], strict=False)
    )
    assert all(end <= ribbon_.width for end in ends)


def test_hours_that_would_be_hairlines_apart_are_one_strip():
    hours = tuple(
        (START + timedelta(days=d, hours=8), START + timedelta(days=d, hours=20))
        for d in range(7)
        if d != 3
    )
    assert len(drawn(7, 1196, access=hours).rows[0].access) == 6
    strips = drawn(91, 356, access=hours).rows[0].access
    assert [round(strip.x) for strip in strips] == [1, 17], "a closed day shows"


def test_a_curve_has_no_more_points_than_its_own_pixels_need():
    many = tuple((START + timedelta(minutes=n), 20 + n % 50) for n in range(60 * 24))
    (shape,) = drawn(91, 356, booking(0, 24, planned=many)).rows[0].shapes
    assert len(NUMBER.findall(shape.planned_path)) <= 12


def test_a_flag_moves_the_words_aside_and_notes_are_said():
    plain, flagged = (
        drawn(14, 1196, booking(9, 60, flag=flag, notes=("It is late.",)))
        .rows[0]
        .shapes[0]
        for flag in ("", "late")
    )
    assert flagged.label_x - plain.label_x == 16
    assert flagged.words.endswith(". It is late")


def test_a_pixel_is_as_long_as_the_script_is_told():
    made = drawn(28, 1196, booking(48, 60, move_url="7"))
    (shape,) = made.rows[0].shapes
    assert shape.move_url == "7"
    assert made.starts_s + shape.x * made.s_per_px == pytest.approx(
        shape.starts_s, abs=60
    )


def test_days_too_narrow_for_outlines_show_heat_as_a_band():
    (shape,) = (
        ribbon(booking(24, 60, pictures=("/a",)), days=91, day_width=4.0).rows[0].shapes
    )
    assert shape.area_path == shape.planned_path == ""
    assert shape.pictures == ()
    assert shape.peak is None
    for one, after in itertools.pairwise(shape.band):
        assert one.x + one.width == pytest.approx(after.x, abs=0.02)
        assert one.step != after.step
    assert max(heat.step for heat in shape.band) >= 5
    assert sum(heat.width for heat in shape.band) == pytest.approx(10, abs=0.1)


def test_a_firing_of_hours_is_still_seen_in_three_months():
    (shape,) = (
        build_ribbon(
            [RibbonKiln(name="Bell", bookings=(booking(24, 2),))],
            key="k",
            starts_at=START,
            ends_at=START + timedelta(days=91),
            now=START,
            zone=UTC,
            show_when=when,
            show_heat=str,
            day_width=4.0,
        )
        .rows[0]
        .shapes
    )
    assert sum(heat.width for heat in shape.band) >= 4


def test_the_hottest_and_the_present_temperature_are_written():
    began = START + timedelta(hours=24)
    recorded = tuple(
        (began + timedelta(hours=h), c)
        for h, c in ((0, 20.0), (12, 800.0), (30, 480.0))
    )
    drawn = ribbon(
        booking(24, 96, recorded=recorded), now=began + timedelta(hours=30.5)
    )
    (shape,) = drawn.rows[0].shapes
    assert shape.peak.label == "815 °C" or shape.peak.label == "800 °C"
    assert shape.now.label == "480 °C"
    assert PLOT_TOP <= shape.now.y <= PLOT_TOP + PLOT_HEIGHT


@given(st.integers(1, 5), st.floats(20, 200))
def test_pictures_stand_inside_the_outline(count, hours):
    drawn = ribbon(booking(24, hours, pictures=tuple("abcde"[:count])))
    (shape,) = drawn.rows[0].shapes
    assert len(shape.pictures) <= min(count, 3)
    for picture in shape.pictures:
        assert shape.x <= picture.x
        assert picture.x + drawn.picture_side <= shape.x + shape.width + 1
        assert picture.y >= PLOT_TOP
