"""The published table, its own law, and the habit of taking one row thicker.

Published values: a fusing-glass maker's published annealing table for thick slabs (as
in the module: partly from memory). Totals are hours from the soak down to 21 °C.
"""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.physics.designing import annealing_table as table
from firing.physics.schedule import PhysicsProblem, Programme, duration_s

PUBLISHED_TOTAL_H = {
    12: 5,
    19: 9,
    25: 14,
    38: 28,
    50: 47,
    62: 70,
    75: 99,
    100: 170,
    150: 375,
}
# Half of the last digit that the table prints, for each rate of each row.
LAST_DIGIT_HALVES = {
    12: (0.5, 0.5, 5),
    19: (0.5, 0.5, 5),
    25: (0.5, 0.5, 5),
    38: (0.05, 0.5, 5),
    50: (0.05, 0.05, 0.5),
    62: (0.05, 0.05, 0.05),
    75: (0.05, 0.05, 0.5),
    100: (0.005, 0.05, 0.05),
    150: (0.005, 0.005, 0.05),
}


def millimetres(row):
    return round(row.thickness_m * 1000)


def total_h(rule, soak_c=482.0, end_c=21.0):
    segments = table.anneal_segments(rule, soak_c=soak_c, end_c=end_c)
    return duration_s(Programme(start_c=soak_c, segments=segments), 1000) / 3600


def test_every_published_thickness_is_there():
    assert [millimetres(row) for row in table.ROWS] == list(PUBLISHED_TOTAL_H)


@pytest.mark.parametrize("row", table.ROWS, ids=millimetres)
def test_total_hours_are_the_published_ones_within_the_rounding_of_the_rates(row):
    halves = LAST_DIGIT_HALVES[millimetres(row)]
    spans = (55, 56, 350)
    soak_h = row.soak_s / 3600
    rates = list(zip(spans, row.rates_c_per_h, halves, strict=True))
    shortest = soak_h + sum(span / (rate + half) for span, rate, half in rates)
    longest = soak_h + sum(span / (rate - half) for span, rate, half in rates)
    published = PUBLISHED_TOTAL_H[millimetres(row)]
    # We read 170 and 375 h as rounded to five hours, the others to one.
    total_half_h = 2.5 if published > 100 else 0.5
    assert shortest - total_half_h <= published <= longest + total_half_h
    assert total_h(row) == pytest.approx(published, rel=0.08)
    assert total_h(row) == pytest.approx(
        soak_h + sum(span / rate for span, rate, _ in rates), rel=1e-12
    )


@pytest.mark.parametrize("row", table.ROWS[2:], ids=millimetres)
def test_first_rate_times_thickness_squared_is_one_number(row):
    # 27 °F/h in² = 15 °C/h at one inch, derived from the rows; the rows are named in
    # whole millimetres for inches (62 for 63.5), hence 5 %.
    inches = row.thickness_m / 0.0254
    assert row.rates_c_per_h.first * inches**2 == pytest.approx(15, rel=0.05)


@pytest.mark.parametrize("row", table.ROWS, ids=millimetres)
def test_the_exact_rule_stays_within_eight_percent_of_the_row(row):
    rule = table.exact_rule(row.thickness_m)
    assert rule.soak_s == pytest.approx(row.soak_s)
    for exact, published in zip(rule.rates_c_per_h, row.rates_c_per_h, strict=True):
        assert 0.99 * published <= exact <= 1.08 * published


def test_the_exact_rule_by_hand():
    rule = table.exact_rule(0.060)
    # 15 (25.4/60)² = 2.68817 °C/h; soak 8 + 2 (60-50)/(62-50) h.
    assert rule.rates_c_per_h.first == pytest.approx(2.688166667, rel=1e-9)
    assert rule.rates_c_per_h.second == pytest.approx(1.8 * 2.688166667, rel=1e-9)
    assert rule.rates_c_per_h.final == pytest.approx(6 * 2.688166667, rel=1e-9)
    assert rule.soak_s / 3600 == pytest.approx(8 + 20 / 12)


def rules(thickness_m):
    found = [table.row_at_or_above(thickness_m), table.exact_rule(thickness_m)]
    if thickness_m < 0.125:
        found.append(table.next_thicker_row(thickness_m))
    return found


@given(st.floats(0.001, 0.15), st.floats(0.001, 0.15))
def test_thicker_is_never_faster_and_never_shorter(one, other):
    thin, thick = sorted((one, other))
    for thinner, thicker in zip(rules(thin), rules(thick), strict=False):
        assert thicker.soak_s >= thinner.soak_s
        for slow, fast in zip(
            thicker.rates_c_per_h, thinner.rates_c_per_h, strict=True
        ):
            assert slow <= fast
        assert total_h(thicker) >= total_h(thinner)


@given(st.floats(0.001, 0.12))
def test_the_habit_is_never_faster_than_the_row_of_the_thickness(thickness_m):
    habit = table.next_thicker_row(thickness_m)
    row = table.row_at_or_above(thickness_m)
    assert habit.thickness_m >= row.thickness_m >= min(thickness_m, 0.012)
    assert total_h(habit) >= total_h(row)


@pytest.mark.parametrize(
    ("thickness_mm", "at_or_above", "next_thicker"),
    [
        (60, 62, 75),
        (27, 38, 38),
        (3, 12, 12),
        (12, 12, 19),
        (12.1, 19, 19),
        (31.5, 38, 50),  # half-way between 25 and 38: the thicker is the nearest
        (62, 62, 75),
        (124, 150, 150),
    ],
)
def test_which_row_serves(thickness_mm, at_or_above, next_thicker):
    thickness_m = thickness_mm / 1000
    assert millimetres(table.row_at_or_above(thickness_m)) == at_or_above
    assert millimetres(table.next_thicker_row(thickness_m)) == next_thicker


@pytest.mark.parametrize("thickness_m", [0.0, -0.01, 0.1501, float("nan")])
@pytest.mark.parametrize(
    "rule", [table.row_at_or_above, table.next_thicker_row, table.exact_rule]
)
def test_outside_the_table_is_refused(rule, thickness_m):
    with pytest.raises(PhysicsProblem, match="up to 150 mm"):
        rule(thickness_m)


def test_past_the_last_but_one_row_there_is_no_thicker_one():
    with pytest.raises(PhysicsProblem, match="no row thicker"):
        table.next_thicker_row(0.13)


def test_stages_hang_on_the_soak_of_the_glass():
    row = table.row_at_or_above(0.05)
    for soak_c in (482.0, 516.0, 560.0):
        segments = table.anneal_segments(row, soak_c=soak_c, end_c=50)
        assert [segment.label for segment in segments] == [
            "anneal soak",
            "cooling 1",
            "cooling 2",
            "final cooling",
        ]
        targets = [segment.target_c for segment in segments]
        assert targets == [soak_c, soak_c - 55, soak_c - 111, 50]
        assert segments[0].rate_c_per_h is None
        assert segments[0].hold_s == row.soak_s
        assert tuple(s.rate_c_per_h for s in segments[1:]) == row.rates_c_per_h


@pytest.mark.parametrize(
    ("end_c", "targets"),
    [
        (400, [482, 427, 400]),
        (427, [482, 427]),
        (450, [482, 450]),
        (371, [482, 427, 371]),
    ],
)
def test_stages_below_the_end_are_left_out(end_c, targets):
    segments = table.anneal_segments(table.ROWS[4], end_c=end_c)
    assert [segment.target_c for segment in segments] == targets


def test_an_end_above_the_soak_is_refused():
    with pytest.raises(PhysicsProblem, match="below the anneal soak"):
        table.anneal_segments(table.ROWS[0], soak_c=482, end_c=482)


def test_rows_are_in_order():
    assert all(a.thickness_m < b.thickness_m for a, b in pairwise(table.ROWS))
