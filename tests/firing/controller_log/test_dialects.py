"""Known readings, written in any dialect a controller may have, come back the same.

Or something is asked, and the answer brings them back. Never do other readings.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.controller_log import LogQuestions, Readings, read_log

LISBON = ZoneInfo("Europe/Lisbon")
BEGAN = datetime(2026, 11, 10, 6, 0, tzinfo=UTC)
PLAN = Readings(np.array([0.0, 3e4, 9e4]), np.array([20.0, 815.0, 40.0]))

STAMPS = {
    "iso": "%Y-%m-%d %H:%M:%S",
    "iso T": "%Y-%m-%dT%H:%M:%S",
    "iso Z": "%Y-%m-%dT%H:%M:%SZ",
    "dots": "%d.%m.%Y %H:%M:%S",
    "dots, no seconds": "%d.%m.%y %H:%M",
    "us": "%m/%d/%Y %I:%M:%S %p",
    "us, 24 h": "%m/%d/%y %H:%M",
    "uk": "%d/%m/%Y %H:%M:%S",
}
ELAPSED = {"s": 1, "min": 60, "h": 3600}


@dataclass(frozen=True)
class Dialect:
    """How a file is written, and what its writer could answer about it."""

    time: str
    time_name: str
    unit: str
    names_unit: str  # where: name, row, summary, cell, or nowhere
    delimiter: str
    point: str
    decimals: int
    thousands: bool
    quotes: bool
    encoding: str
    newline: str
    others: tuple[str, ...]
    summary: bool
    says_separator: bool
    trailing: bool
    blanks: bool
    cut: int  # letters that are lost at the end
    elapsed_unit: str


@st.composite
def dialects(draw):
    delimiter, point = draw(
        st.sampled_from([(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ",")])
    )
    time = draw(
        st.sampled_from(
            [*STAMPS, "two columns", "clock", "clock, 24 h", "h:mm:ss", "number"]
        )
    )
    return Dialect(
        time=time,
        time_name=draw(st.sampled_from(["Time", "Date/Time", "Timestamp"])),
        unit=draw(st.sampled_from("CF")),
        names_unit=draw(st.sampled_from(["name", "row", "summary", "cell", "nowhere"])),
        delimiter=delimiter,
        point=point,
        decimals=draw(st.integers(0, 2)),
        thousands=draw(st.booleans()),
        quotes=draw(st.booleans()),
        encoding=draw(
            st.sampled_from(
                ["utf-8", "utf-8-sig", "latin-1", "utf-16", "utf-16-le", "utf-16-be"]
            )
        ),
        newline=draw(st.sampled_from(["\n", "\r\n"])),
        others=tuple(
            draw(
                st.lists(
                    st.sampled_from(
                        ["Set point", "SP", "Power %", "Room temp", "Second"]
                    ),
                    unique=True,
                    max_size=3,
                )
            )
        ),
        summary=draw(st.booleans()),
        says_separator=draw(st.booleans()),
        trailing=draw(st.booleans()),
        blanks=draw(st.booleans()),
        cut=draw(st.sampled_from([0, 0, *range(1, 14)])),
        elapsed_unit=draw(st.sampled_from([*ELAPSED])),
    )


@st.composite
def readings(draw):
    """Return whole minutes and degrees of a firing that heats and cools."""
    steps = draw(st.lists(st.integers(1, 40), min_size=8, max_size=60))
    minutes = np.cumsum([draw(st.integers(0, 30)), *steps])
    heats = np.interp(minutes * 60, *PLAN) + draw(st.integers(-15, 15))
    return minutes, heats


def written(dialect, minutes, heats):
    """Return the file, and the temperatures [°C] that it really has."""
    scale = heats if dialect.unit == "C" else heats * 1.8 + 32
    shown = np.round(scale, dialect.decimals)
    expected = shown if dialect.unit == "C" else (shown - 32) / 1.8
    unit = f" ({'°' if dialect.encoding != 'utf-8-sig' else 'deg '}{dialect.unit})"
    named = unit if dialect.names_unit == "name" else ""
    header = [*time_names(dialect), f"Temp{named}"]
    units = [*[""] * len(time_names(dialect)), unit]
    columns = [*times(dialect, minutes), [number(dialect, v) for v in shown]]
    if dialect.names_unit == "cell":
        columns[-1] = [f"{text} °{dialect.unit}" for text in columns[-1]]
    for at, other in enumerate(dialect.others):
        header.append(other if other == "Power %" else f"{other}{named}")
        units.append("")
        columns.append(
            [number(dialect, v + at + 1) for v in shown]
            if other != "Power %"
            else ["55"] * len(shown)
        )
    if "Second" in dialect.others:
        # The kiln has a second thermocouple.
        header = [name.replace("Second", "Temp 2") for name in header]
    rows = [list(row) for row in zip(*columns, strict=True)]
    lines = [line_of(dialect, row) for row in (header, *rows)]
    if dialect.names_unit == "row":
        lines.insert(1, line_of(dialect, units))
    if dialect.blanks:
        lines.insert(3, "")
    above = []
    if dialect.summary or dialect.names_unit == "summary":
        above = ["Kiln log", f"Firing number{dialect.delimiter}77", "Program: fuse 9"]
    if dialect.names_unit == "summary":
        above.append(f"Units{dialect.delimiter}{dialect.unit}")
    if dialect.says_separator:
        above.insert(0, f"sep={dialect.delimiter}")
    text = dialect.newline.join([*above, *lines, ""])
    if dialect.cut:
        # Power was lost while the last line was written.
        text = text[: len(text) - min(dialect.cut, len(lines[-1]))]
    return text.encode(dialect.encoding), expected


def time_names(dialect):
    return {
        "two columns": ["Date", "Time"],
        "clock": ["Time of day"],
        "clock, 24 h": ["Time"],
        "h:mm:ss": ["Elapsed"],
        "number": ["Elapsed time"],
    }.get(dialect.time, [dialect.time_name])


def times(dialect, minutes):
    instants = [BEGAN + timedelta(minutes=int(m)) for m in minutes]
    local = [at.astimezone(LISBON) for at in instants]
    if dialect.time == "two columns":
        return [[f"{at:%Y-%m-%d}" for at in local], [f"{at:%H:%M}" for at in local]]
    if dialect.time == "clock":
        return [[f"{at:%I:%M:%S %p}" for at in local]]
    if dialect.time == "clock, 24 h":
        return [[f"{at:%H:%M}" for at in local]]
    if dialect.time == "h:mm:ss":
        return [[f"{m // 60}:{m % 60:02}:00" for m in minutes]]
    if dialect.time == "number":
        per = ELAPSED[dialect.elapsed_unit] / 60
        return [[f"{m / per:.6f}".replace(".", dialect.point) for m in minutes]]
    kept = instants if dialect.time == "iso Z" else local
    return [[at.strftime(STAMPS[dialect.time]) for at in kept]]


def number(dialect, value):
    text = f"{value:{',' if dialect.thousands else ''}.{dialect.decimals}f}"
    if dialect.point == ",":
        text = text.translate(str.maketrans(",.", ".,"))
    return text


def line_of(dialect, cells):
    needs = dialect.delimiter == "," and any("," in cell for cell in cells)
    quoted = [f'"{cell}"' for cell in cells] if dialect.quotes or needs else cells
    return dialect.delimiter.join(quoted) + (dialect.delimiter * dialect.trailing)


def answers_of(questions, dialect):
    """Return what the writer of the file answers."""
    true = {
        "unit": dialect.unit,
        "elapsed_unit": dialect.elapsed_unit,
        "date_order": "dmy" if dialect.time == "uk" else "mdy",
    }
    for question in questions:
        if question.name == "temperature_column":
            # The kiln's is the first of the two.
            true["temperature_column"] = question.choices[0][0]
        assert true[question.name] in dict(question.choices)
    return {question.name: true[question.name] for question in questions}


@given(dialects(), readings(), st.sampled_from([100_000.0, None]))
def test_readings_come_back_from_any_dialect_or_something_is_asked(
    dialect, known, lasted_s
):
    minutes, heats = known
    data, expected = written(dialect, minutes, heats)
    common = {
        "started_at": BEGAN,
        "zone": LISBON,
        "lasted_s": lasted_s,
        "planned": PLAN,
    }
    try:
        log = read_log(data, **common)
    except LogQuestions as asked:
        answers = answers_of(asked.questions, dialect)
        log = read_log(data, **common, **answers)
    assert log.left_out == []
    count = len(log.readings.time_s)
    assert len(expected) - bool(dialect.cut) <= count <= len(expected)
    assert log.is_cut_short is (count < len(expected))
    assert log.readings.time_s == pytest.approx(minutes[:count] * 60, abs=0.01)
    assert log.readings.temperature_c[: len(minutes) - 1] == pytest.approx(
        expected[:count][: len(minutes) - 1], abs=1e-6
    )
    # What a cut number has left is off by its decimals at most.
    assert log.readings.temperature_c == pytest.approx(expected[:count], abs=1)


@given(
    dialects(),
    readings(),
    st.sets(st.integers(1, 7), min_size=1, max_size=3),
    st.sampled_from(["ERR", "----", "", "OPEN", "9999", "NaN"]),
)
def test_a_bad_cell_anywhere_costs_its_own_line_and_no_other(dialect, known, bad, text):
    minutes, heats = known
    good, expected = written(dialect, minutes, heats)
    common = {"started_at": BEGAN, "zone": LISBON, "lasted_s": 100_000.0}
    try:
        log = read_log(good, **common)
        answers = {}
    except LogQuestions as asked:
        answers = answers_of(asked.questions, dialect)
        log = read_log(good, **common, **answers)
    encoding = dialect.encoding
    lines = good.decode(encoding).split(dialect.newline)
    filled = [at for at, line in enumerate(lines) if line.strip()]
    first = len(filled) - len(expected)
    column = len(time_names(dialect))
    for row in bad:
        at = filled[first + row - 1 if row < len(expected) else -2]
        cells = lines[at].split(dialect.delimiter)
        if '"' in lines[at] and dialect.delimiter == ",":
            return  # A quoted comma is no delimiter; other examples do this.
        cells[column] = text
        lines[at] = dialect.delimiter.join(cells)
    spoilt = dialect.newline.join(lines).encode(encoding)
    left = read_log(spoilt, **common, **answers)
    kept = set(left.readings.time_s)
    assert kept <= set(log.readings.time_s)
    assert len(left.left_out) == len(bad)
    both = np.isin(log.readings.time_s, left.readings.time_s)
    assert left.readings.temperature_c == pytest.approx(
        log.readings.temperature_c[both]
    )
