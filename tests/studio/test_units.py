"""Units: what people write, what is stored, what is shown again."""

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio import units
from studio.units import LengthUnit, TemperatureUnit, UnitProblem

MM, IN = LengthUnit.MM, LengthUnit.IN
C, F = TemperatureUnit.C, TemperatureUnit.F


@pytest.mark.parametrize(
    ("text", "default", "length_mm"),
    [
        ("60 mm", IN, 60),
        ("60", MM, 60),
        ("2", IN, 50.8),
        # 1 in = 2.54 cm exactly: NIST SP 811 Appendix B (international inch, 1959).
        ("1 in", MM, 25.4),
        ("1 inch", MM, 25.4),
        ("12 inches", MM, 304.8),
        ("1 ft", MM, 304.8),  # NIST SP 811: 1 ft = 0.3048 m exactly
        ("2 3/8 in", MM, 60.325),
        ("2-3/8 in", MM, 60.325),
        ("2⅜ in", MM, 60.325),
        ("2 ⅜″", MM, 60.325),
        ("3/8", IN, 9.525),
        ('2.36"', MM, 59.944),
        ("2.36”", MM, 59.944),
        ("2.36''", MM, 59.944),
        ("2,36 in.", MM, 59.944),
        ("0,375 in", MM, 9.525),
        (".5 m", IN, 500),
        ("30cm", IN, 300),
        ("1 m 20 cm", IN, 1200),
        ("1 ft 3 1/2 in", MM, 393.7),
        ("5' 3\"", MM, 1600.2),
        ("5′-3″", MM, 1600.2),
        ("60\N{NO-BREAK SPACE}mm", IN, 60),
        ("６０ mm", IN, 60),
    ],
)
def test_lengths_as_people_write_them(text, default, length_mm):
    assert units.parse_length_mm(text, default) == pytest.approx(length_mm, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        "mm",
        "abc",
        "-60 mm",
        "−60",
        "0 mm",
        "0.001 mm",
        "nan",
        "NaN mm",
        "inf",
        "1e999",
        "1e3",
        "10001 mm",
        "11 m",
        "9" * 59,
        "9" * 4000,
        "3/0 in",
        "2 3",
        "1 in 2 ft",
        "1 in 2 in",
        "5 ft 3",
        "60 kg",
        "60 °C",
        "60 mm mm",
        "1.2.3",
        "1 000 mm",
    ],
)
def test_what_is_no_length_is_refused_with_what_to_write(text):
    with pytest.raises(UnitProblem, match="Write a length such as 60 mm") as caught:
        units.parse_length_mm(text, MM)
    assert len(str(caught.value)) < 200


@pytest.mark.parametrize("text", ["1,000 mm", "2,375 in"])
def test_a_comma_that_may_group_thousands_is_asked_about(text):
    with pytest.raises(UnitProblem, match="two ways"):
        units.parse_length_mm(text, MM)


@pytest.mark.parametrize(
    ("length_mm", "unit", "text"),
    [
        (60, MM, "60 mm"),
        (60.325, IN, "2 3/8 in"),
        (60.33, IN, "2 3/8 in"),  # a reader of mm retyped it
        (60, IN, "2.362 in"),
        (3, IN, "0.118 in"),
        (304.8, IN, "12 in"),
        (304.8, MM, "304.8 mm"),
        (3.175, IN, "1/8 in"),
        (-25.4, IN, "-1 in"),
        (-26.9875, IN, "-1 1/16 in"),
        (0, MM, "0 mm"),
        (-0.0001, MM, "0 mm"),
    ],
)
def test_lengths_as_shown(length_mm, unit, text):
    assert units.format_length(length_mm, unit) == text


def test_a_size_carries_one_unit():
    assert units.format_size(304.8, 203.2, IN) == "12 × 8 in"
    assert units.format_size(304.8, 203.2, MM) == "304.8 × 203.2 mm"


@given(st.floats(0.02, 9_999), st.sampled_from(LengthUnit), st.sampled_from(LengthUnit))
def test_a_length_survives_being_shown_and_retyped(length_mm, unit, default):
    shown = units.format_length(length_mm, unit)
    again = units.parse_length_mm(shown, default)
    # Half of the last decimal shown: 0.005 mm, or 0.0005 in and a sixteenth's 0.01 mm.
    half_step = 0.005 if unit is MM else 0.0127
    assert abs(again - length_mm) <= half_step + 1e-9
    assert units.format_length(again, unit) == shown


@given(st.integers(1, 16 * 390), st.sampled_from([4, 8, 16]))
def test_sixteenths_come_back_exactly(count, denominator):
    length_mm = count / denominator * 25.4
    if length_mm > 9_999:
        length_mm /= 16
    shown = units.format_length(length_mm, IN)
    if "." not in shown:
        assert units.parse_length_mm(shown, MM) == pytest.approx(length_mm, abs=1e-9)


# NIST SP 811 Appendix B.8: t/°C = (t/°F - 32)/1.8; ice and steam points, and the one
# number both scales share.
@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [
        (0, 32),
        (100, 212),
        (-40, -40),
        (37, 98.6),
        (482, 899.6),
        (815.5555555555555, 1500),
    ],
)
def test_the_two_scales(celsius, fahrenheit):
    assert units.celsius_to_fahrenheit(celsius) == pytest.approx(fahrenheit, rel=1e-14)
    assert units.fahrenheit_to_celsius(fahrenheit) == pytest.approx(celsius, rel=1e-14)


@given(st.floats(-60, 1800))
def test_the_scales_are_each_others_inverse(celsius):
    there = units.celsius_to_fahrenheit(celsius)
    assert there == pytest.approx(celsius * 1.8 + 32, abs=1e-9)
    assert units.fahrenheit_to_celsius(there) == pytest.approx(celsius, abs=1e-10)


@given(st.floats(-60, 1800), st.floats(-60, 1800))
def test_a_difference_is_the_difference_of_two_readings(one, other):
    across = units.celsius_to_fahrenheit(one) - units.celsius_to_fahrenheit(other)
    assert units.celsius_difference_to_fahrenheit(one - other) == pytest.approx(
        across, abs=1e-9
    )
    assert units.fahrenheit_difference_to_celsius(across) == pytest.approx(
        one - other, abs=1e-9
    )


@pytest.mark.parametrize(
    ("text", "default", "temperature_c"),
    [
        ("1500 °F", C, 815.5555555555555),
        ("1500F", C, 815.5555555555555),
        ("1500 degrees Fahrenheit", C, 815.5555555555555),
        ("815 C", F, 815),
        ("815 ℃", F, 815),
        ("815 º C", F, 815),
        ("815", C, 815),
        ("815 °", C, 815),
        ("32", F, 0),
        ("-5,5 °C", C, -5.5),
        ("−40", F, -40),
        ("+20 C", F, 20),
    ],
)
def test_temperatures_as_people_write_them(text, default, temperature_c):
    assert units.parse_temperature_c(text, default) == pytest.approx(temperature_c)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "-",
        "--5 C",
        "hot",
        "nan",
        "inf C",
        "1e999",
        "-51 C",
        "1701 C",
        "3100 F",
        "815 K",
        "815 C 3 C",
        "60 mm",
    ],
)
def test_what_is_no_temperature_is_refused(text):
    with pytest.raises(UnitProblem, match="Write a temperature such as 815"):
        units.parse_temperature_c(text, C)


@pytest.mark.parametrize(
    ("temperature_c", "unit", "text"),
    [
        (815.5555555555555, F, "1500 °F"),
        (593.3333333333334, F, "1100 °F"),
        (482, F, "899.6 °F"),
        (482, C, "482 °C"),
        (-0.01, C, "0 °C"),
        (-5, C, "-5 °C"),
    ],
)
def test_temperatures_as_shown(temperature_c, unit, text):
    assert units.format_temperature(temperature_c, unit) == text


def test_a_screen_may_ask_for_whole_degrees():
    assert units.format_temperature(482, F, decimals=0) == "900 °F"
    assert units.format_temperature_difference(10, F) == "18 °F"
    assert units.format_temperature_difference(10, C) == "10 °C"


@given(
    st.floats(-50, 1700),
    st.sampled_from(TemperatureUnit),
    st.sampled_from(TemperatureUnit),
)
def test_a_temperature_survives_being_shown_and_retyped(temperature_c, unit, default):
    shown = units.format_temperature(temperature_c, unit)
    again = units.parse_temperature_c(shown, default)
    half_step = 0.05 if unit is C else 0.05 / 1.8
    assert abs(again - temperature_c) <= half_step + 1e-9


@pytest.mark.parametrize(
    ("text", "default", "rate"),
    [
        ("27 °F/h", C, 15),
        ("27", F, 15),
        ("27 F per hour", C, 15),
        ("27 deg F / hr", C, 15),
        ("15 C/h", F, 15),
        ("15 /h", C, 15),
        ("0.25 °C/min", F, 15),
        ("9999 °F/h", C, 5555),
        ("6,7", C, 6.7),
    ],
)
def test_rates_convert_as_differences(text, default, rate):
    assert units.parse_rate_c_per_h(text, default) == pytest.approx(rate, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "default", "kelvin"),
    [
        ("5", C, 5.0),
        ("9", F, 5.0),
        ("-9 °F", C, -5.0),
        ("+4.5 C", F, 4.5),
        ("5 K", F, 5.0),
        ("−2 °C", C, -2.0),
        ("0", F, 0.0),
    ],
)
def test_a_difference_has_no_zero_point(text, default, kelvin):
    found = units.parse_temperature_difference_c(text, default)
    assert found == pytest.approx(kelvin, rel=1e-12)


@pytest.mark.parametrize("text", ["", "warm", "5 mm", "5 °C 3", "nan"])
def test_no_difference_is_refused(text):
    with pytest.raises(units.UnitProblem, match="such as 5 °C"):
        units.parse_temperature_difference_c(text, C)


@pytest.mark.parametrize("sign", ["", "-"])
def test_a_difference_is_at_most_500_kelvin_either_way(sign):
    for most in ("500 °C", "900 °F"):
        assert abs(units.parse_temperature_difference_c(sign + most, C)) == 500
    for more in ("501 °C", "901 °F"):
        with pytest.raises(UnitProblem, match=r"-500 to 500 °C .* such as 5 °C"):
            units.parse_temperature_difference_c(sign + more, C)


@pytest.mark.parametrize(
    "text",
    ["", "0", "-27 F/h", "fast", "nan", "1e999", "10001 C/h", "27 F/day", "3 mm/h"],
)
def test_what_is_no_rate_is_refused(text):
    with pytest.raises(UnitProblem, match="Write a rate without a sign"):
        units.parse_rate_c_per_h(text, C)


def test_rates_as_shown():
    assert units.format_rate(15, F) == "27 °F/h"
    assert units.format_rate(15, C) == "15 °C/h"
    assert units.format_rate(0.42, F) == "0.76 °F/h"


@given(
    st.floats(0.02, 9_990),
    st.sampled_from(TemperatureUnit),
    st.sampled_from(TemperatureUnit),
)
def test_a_rate_survives_being_shown_and_retyped(rate, unit, default):
    again = units.parse_rate_c_per_h(units.format_rate(rate, unit), default)
    assert abs(again - rate) <= 0.005 + 1e-9


@pytest.mark.parametrize(
    ("text", "duration_s"),
    [
        ("2 h", 7_200),
        ("90 min", 5_400),
        ("1:30", 5_400),
        ("1:30:15", 5_415),
        ("2 h 30", 9_000),
        ("2h30m", 9_000),
        ("45", 2_700),
        ("1.5 h", 5_400),
        ("1½ hours", 5_400),
        ("1 1/2 hrs", 5_400),
        ("4 d 3 h", 356_400),
        ("2 weeks", 1_209_600),
        ("1 w 3", 864_000),
        ("2 days 3", 183_600),
        ("30 s", 30),
        ("0", 0),
        ("100:00", 360_000),
    ],
)
def test_durations_as_people_write_them(text, duration_s):
    assert units.parse_duration_s(text) == pytest.approx(duration_s)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "-2 h",
        "soon",
        "nan",
        "inf",
        "1e999",
        "1:75",
        "2 h 3 h",
        "3 min 2 h",
        "5 ms",
        "30 s 5",
        "400 d",
        "9999:00",
    ],
)
def test_what_is_no_duration_is_refused(text):
    with pytest.raises(UnitProblem, match="Write a time such as 2 h"):
        units.parse_duration_s(text)


@pytest.mark.parametrize(
    ("duration_s", "text"),
    [
        (9_000, "2 h 30 min"),
        (356_400, "4 d 3 h"),
        (357_600, "4 d 3 h 20 min"),
        (5_400, "1 h 30 min"),
        (90, "1 min 30 s"),
        (3_599.6, "1 h"),
        (86_399, "1 d"),
        (0, "0 min"),
        (0.2, "0 min"),
        (-7_200, "-2 h"),
        (45, "45 s"),
    ],
)
def test_durations_as_shown(duration_s, text):
    assert units.format_duration(duration_s) == text


def test_a_duration_can_be_cut_to_its_large_parts():
    assert units.format_duration(357_600, parts=2) == "4 d 3 h"
    assert units.format_duration(86_400 + 1_900, parts=2) == "1 d 1 h"
    assert units.format_duration(3 * 86_400 - 60, parts=1) == "3 d"


@given(st.floats(0, 365 * 86_400))
def test_a_duration_survives_being_shown_and_retyped(duration_s):
    again = units.parse_duration_s(units.format_duration(duration_s))
    assert abs(again - duration_s) <= (0.5 if duration_s < 3_599 else 30)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_no_nonsense_is_ever_shown(value):
    for show in (
        lambda: units.format_length(value, MM),
        lambda: units.format_length(value, IN),
        lambda: units.format_temperature(value, F),
        lambda: units.format_rate(value, F),
        lambda: units.format_duration(value),
    ):
        with pytest.raises(UnitProblem):
            show()


@given(st.text(max_size=70))
def test_any_text_is_read_or_refused_never_a_crash(text):
    for read in (
        lambda: units.parse_length_mm(text, MM),
        lambda: units.parse_temperature_c(text, F),
        lambda: units.parse_rate_c_per_h(text, C),
        lambda: units.parse_duration_s(text),
    ):
        try:
            value = read()
        except UnitProblem:
            continue
        assert math.isfinite(value)


def test_units_and_money_load_without_the_framework():
    program = "import studio.units, studio.money, sys; print('django' in sys.modules)"
    answer = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert answer.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("words", "length_mm"),
    [
        ("mm millimetre millimeter millimetres", 1),
        ("cm centimetre centimeter centimeters", 10),
        ("m metre meter metres", 1000),
        ("in inch inches", 25.4),
        ("ft foot feet", 304.8),
    ],
)
def test_every_name_of_a_unit_of_length(words, length_mm):
    for word in words.split():
        assert units.parse_length_mm(f"1 {word}", MM) == pytest.approx(length_mm)


@pytest.mark.parametrize(
    ("words", "duration_s"),
    [
        ("w week weeks", 604_800),
        ("d day days", 86_400),
        ("h hr hrs hour hours", 3600),
        ("min mins m minute minutes", 60),
        ("s sec secs second seconds", 1),
    ],
)
def test_every_name_of_a_unit_of_time(words, duration_s):
    for word in words.split():
        assert units.parse_duration_s(f"1 {word}") == duration_s


@pytest.mark.parametrize(
    ("read", "within", "beyond"),
    [
        (units.parse_length_mm, ["0.01 mm", "10 m"], ["0.009 mm", "10001 mm"]),
        (
            units.parse_temperature_c,
            ["-50 C", "1700 C"],
            ["-50.1 C", "1700.1 C"],
        ),
        (
            units.parse_temperature_difference_c,
            ["500 C", "-500 C"],
            ["500.1 C", "-500.1 C"],
        ),
        (
            units.parse_rate_c_per_h,
            ["0.01 C/h", "10000 C/h"],
            ["0.009 C/h", "10001 C/h"],
        ),
        (lambda text, _: units.parse_duration_s(text), ["366 d", "0"], ["366 d 1 s"]),
    ],
)
def test_limits_are_themselves_allowed(read, within, beyond):
    for text in within:
        read(text, C)
    for text in beyond:
        with pytest.raises(UnitProblem):
            read(text, C)


def test_a_fraction_may_be_written_with_its_own_slash():
    assert units.parse_length_mm("3\N{FRACTION SLASH}8 in", MM) == pytest.approx(9.525)


def test_what_is_longer_than_an_amount_is_refused_as_that():
    assert units.parse_length_mm("1 mm".ljust(60), MM) == 1
    with pytest.raises(UnitProblem, match="too long to be one amount"):
        units.parse_length_mm("1 mm".ljust(61), MM)


def test_what_was_typed_is_quoted_as_far_as_it_is_short():
    with pytest.raises(UnitProblem, match=f"^“{'x' * 31}” cannot be read"):
        units.parse_length_mm("x" * 31, MM)
    with pytest.raises(UnitProblem, match=f"^“{'x' * 30}…” cannot be read"):
        units.parse_length_mm("x" * 32, MM)


@pytest.mark.parametrize(
    ("duration_s", "parts", "text"),
    [
        (0.6, 3, "1 s"),
        (0.6, 1, "1 s"),
        (0.4, 3, "0 min"),
        (-0.4, 3, "0 min"),
        (3599, 3, "59 min 59 s"),
        (3599.6, 3, "1 h"),
        (3.4 * 86_400, 1, "3 d"),
        (3.6 * 86_400, 1, "4 d"),
        (3.6 * 86_400, 0, "4 d"),
        (-5400, 3, "-1 h 30 min"),
    ],
)
def test_a_duration_is_rounded_to_the_last_unit_shown(duration_s, parts, text):
    assert units.format_duration(duration_s, parts=parts) == text


def test_millimetres_are_shown_to_the_hundredth():
    assert units.format_length(1.2345, MM) == "1.23 mm"
