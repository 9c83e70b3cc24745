"""From bytes to rows of equal width, with what is wrong named by its line."""

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firing.controller_log import table as table_module
from firing.controller_log import text as text_module
from firing.controller_log.problems import PROBLEMS_SHOWN, LogProblem
from firing.controller_log.table import HEADER_WITHIN_ROWS, read_table
from tests.firing.controller_log.tables import rows_of, table_of

ROWS = "0;20\n60;21\n"


def table(text):
    return read_table(io.BytesIO(text.encode()))


def refusal(text):
    with pytest.raises(LogProblem) as caught:
        read_table(io.BytesIO(text if isinstance(text, bytes) else text.encode()))
    return caught.value


def test_a_header_names_the_columns_and_lines_are_counted_from_the_files_first():
    found = table("Time (s);Temp (°C)\n" + ROWS)
    assert found.header == ["Time (s)", "Temp (°C)"]
    assert found.lines.tolist() == [2, 3]
    assert rows_of(found) == [["0", "20"], ["60", "21"]]
    assert (found.width, found.encoding, found.delimiter) == (2, "utf-8", "semicolons")
    assert found.column(1) == ["20", "21"]
    assert (found.title(1), found.name(1)) == ("temp (°c)", "“Temp (°C)”")


def test_without_a_header_a_column_is_called_by_its_number():
    found = table(ROWS)
    assert found.header == []
    assert (found.title(0), found.name(0)) == ("", "column 1")


def test_blank_lines_and_comments_are_passed_over_and_still_counted():
    found = table("# kiln 3\n\n0;20\n ; \n60;21\n")
    assert found.lines.tolist() == [3, 5]


def test_what_stands_above_the_header_is_not_read():
    found = table("Logger 7;\nSerial 12;\nTime (s);Temp (°C)\n" + ROWS)
    assert found.header == ["Time (s)", "Temp (°C)"]
    assert len(found.lines) == 2


def test_names_far_down_are_no_header():
    above = "1;2\n" * HEADER_WITHIN_ROWS
    assert table(above[4:] + "Time;Temp\n" + ROWS).header == ["Time", "Temp"]
    assert table(above + "Time;Temp\n" + ROWS).header == []


def test_a_first_line_of_words_is_a_header_even_with_unknown_words():
    assert table("Aika;Lämpö\n" + ROWS).header == ["Aika", "Lämpö"]


@pytest.mark.parametrize(
    ("text", "delimiter"),
    [
        ("0,20\n60,21", "commas"),
        ("0\t20\n60\t21", "tabs"),
        ("0;20,5\n60;21,5", "semicolons"),  # commas are decimal there
        ("0,5\t20\n60,5\t21", "tabs"),
        ("note; well,\n0,20\n60,21", "commas"),  # most lines decide
    ],
)
def test_the_mark_between_cells_is_that_of_most_lines(text, delimiter):
    assert table(text).delimiter == delimiter


def test_a_short_row_is_filled_up_and_a_long_one_is_named():
    found = table("Time (s);Temp (°C);Note\n0;20;a\n60;21\n")
    assert found.row(1) == ["60", "21", ""]
    told = table("Time (s);Temp (°C)\n0;20\n60;21;7\n90;22;\n")
    assert told.problems == {3: "'60 | 21 | 7' are 3 values for 2 columns."}


def test_without_a_header_most_rows_say_how_wide_it_is():
    assert table("0;20;\n60;21;\n90;22\n").width == 3
    assert table("0;20\n60;21\n90;22;\n").width == 2
    assert list(table("0;20\n60;21\n90;22;7\n").problems) == [3]


def test_a_quotation_mark_that_is_not_closed_spoils_only_its_own_line():
    told = table('Time (s);Temp (°C)\n0;"20\n60;21\n90;22\n')
    assert list(told.problems) == [2]
    assert "quotation mark" in told.problems[2]
    assert rows_of(told)[1:] == [["60", "21"], ["90", "22"]]


def test_two_stray_quotation_marks_spoil_only_their_own_line():
    told = table('Time (s),Temp (°C)\n0,20\n60","21\n' + "90,22\n" * 20_000)
    assert list(told.problems) == [3]
    assert rows_of(told)[2:] == [["90", "22"]] * 20_000


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b" \n\n", "empty"),
        (b"%PDF\x01\x02", "not a text file"),
        (b"\xff\xfe\x00\xd8\x00", "not a text file"),
        (b"Time;Temp\n", "no readings"),
        (b"# nothing\n", "no readings"),
        (b"Time;Temp\n0;20\n", "one reading"),
    ],
)
def test_what_is_no_log_is_refused_in_words(data, words):
    assert words in str(refusal(data))


def blamed(count):
    found = table_of([], [["x"]] * count)
    found.blame_all(np.full(count, True), lambda row: f"row {row}")
    return found


def test_the_first_thing_noted_of_a_row_stays():
    found = blamed(1)
    found.blame(0, "something else")
    assert found.problems == {2: "row 0"}


def test_bad_rows_are_left_out_as_long_as_more_are_good():
    found = table("0;20\n60;x\n90;22\n")
    assert found.drop_bad() is None
    found.blame(1, "is bad")
    assert found.drop_bad().tolist() == [True, False, True]
    assert found.lines.tolist() == [1, 3]
    assert (found.problems, found.left_out) == ({}, {2: "is bad"})
    found.blame(1, "is bad too")
    with pytest.raises(LogProblem, match="2 lines cannot be read"):
        found.drop_bad()


def test_the_first_twenty_bad_lines_are_told():
    with pytest.raises(LogProblem) as caught:
        blamed(30).drop_bad()
    told = caught.value
    assert (told.count, len(told.problems)) == (30, PROBLEMS_SHOWN)
    assert told.problems[0] == (2, "row 0")
    assert "30 lines cannot be read" in str(told)


cell = st.text("abc 0123.°é", min_size=1, max_size=6).map(str.strip)


@given(
    st.lists(st.lists(cell, min_size=3, max_size=3), min_size=2, max_size=6),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_every_cell_is_kept_in_its_place(rows, delimiter, encoding):
    rows = [["1", *row] for row in rows]  # numbers: no line is taken for a header
    text = "\n".join(delimiter.join(row) for row in rows)
    found = read_table(io.BytesIO(text.encode(encoding)))
    assert rows_of(found) == rows
    assert found.width == 4


@pytest.mark.parametrize("most", ["MOST_ROWS", "MOST_CELLS"])
def test_more_than_can_be_held_is_refused_with_what_to_do(monkeypatch, most):
    monkeypatch.setattr(table_module, "_AT_ONCE", 2)
    monkeypatch.setattr(table_module, most, 5 if most == "MOST_ROWS" else 10)
    assert len(table("0;20\n" * 5).lines) == 5
    told = str(refusal("0;20\n" * 6))
    assert told.startswith("This file has more than 5 lines of 2 columns. Export one")


def test_a_file_is_read_in_pieces_of_any_size(monkeypatch):
    rows = "".join(f"{at};{20 + at / 10:.1f}\r\n" for at in range(200))
    text = "Time (s);Temp (°C)\r\n" + rows + "\r\n"
    for size in (1, 2, 3, 7, 64):
        monkeypatch.setattr(text_module, "CHUNK", size)
        for encoding in ("utf-8-sig", "utf-16", "utf-16-le", "latin-1"):
            found = read_table(io.BytesIO(text.encode(encoding) + b"\0" * 4))
            assert (len(found.lines), found.is_unended) == (200, True)
            assert found.lines[-1] == 201
            assert found.column(1)[-1] == "39.9"


def test_a_long_file_without_a_header_is_read_to_its_end():
    """Its width is found by going through it once more."""
    rows = "".join(f"{at};{20 + at / 10:.1f}\n" for at in range(20_000))
    found = table(rows)
    assert found.header == []
    assert found.lines.tolist() == list(range(1, 20_001))
    assert found.column(0)[-1] == "19999"
