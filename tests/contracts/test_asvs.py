"""The table of OWASP ASVS 5.0.0 leaves no requirement out and names only what exists."""

import ast
import re
from pathlib import Path

import pytest

from studio import bootstrap

TABLE = bootstrap.ROOT / "tests" / "attacks" / "asvs.md"
# The requirements of level 1 and 2 of each section come first: so many are there.
COUNTS = {
    "1.1": 2, "1.2": 9, "1.3": 11, "1.4": 3, "1.5": 2, "2.1": 3, "2.2": 3, "2.3": 4, "2.4": 1,
    "3.2": 2, "3.3": 4, "3.4": 6, "3.5": 5, "3.7": 2, "4.1": 3, "4.2": 1, "4.3": 2, "4.4": 4,
    "5.1": 1, "5.2": 3, "5.3": 2, "5.4": 3, "6.1": 3, "6.2": 12, "6.3": 4, "6.4": 4, "6.5": 5,
    "6.6": 3, "6.8": 4, "7.1": 3, "7.2": 4, "7.3": 2, "7.4": 5, "7.5": 2, "7.6": 2, "8.1": 2,
    "8.2": 3, "8.3": 1, "8.4": 1, "9.1": 3, "9.2": 4, "10.1": 2, "10.2": 2, "10.3": 4,
    "10.4": 11, "10.5": 5, "10.6": 2, "10.7": 3, "11.1": 2, "11.2": 3, "11.3": 3, "11.4": 4,
    "11.5": 1, "11.6": 1, "12.1": 3, "12.2": 2, "12.3": 4, "13.1": 1, "13.2": 5, "13.3": 2,
    "13.4": 5, "14.1": 2, "14.2": 4, "14.3": 3, "15.1": 3, "15.2": 3, "15.3": 7, "16.1": 1,
    "16.2": 5, "16.3": 4, "16.4": 3, "16.5": 3, "17.1": 1, "17.2": 4, "17.3": 2,
}  # fmt: skip
ASKED = [f"{part}.{n}" for part, count in COUNTS.items() for n in range(1, count + 1)]
NAMED = re.compile(r"`([^`]+)`")


def rows(cells):
    """The lines of the tables with so many cells, without heads and rules."""
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        found = [cell.strip() for cell in line.strip("|").split("|")]
        if len(found) == cells and line.startswith("| ") and found[0] != "id":
            yield found


LINES = list(rows(4))


def left_out():
    for ids, _ in rows(2):
        for part in ids.split(", "):
            yield from (i for i in ASKED if f"{i}.".startswith(f"{part}."))


def test_every_requirement_has_one_line_or_a_reason_to_have_none():
    assert len(ASKED) == 253, "as many as levels 1 and 2 have"
    listed = sorted([line[0] for line in LINES] + list(left_out()))
    assert listed == sorted(ASKED)
    assert all(why for _, why in rows(2))


@pytest.mark.parametrize("line", LINES, ids=[line[0] for line in LINES])
def test_a_line_names_what_is_there_or_says_why_it_is_open(line):
    _, asks, state, by = line
    assert asks
    assert state in {"covered", "open"}
    assert by, "An open line needs its reason."
    for name in NAMED.findall(by):
        assert is_there(name), f"{name} is not there"
    if state == "covered":
        assert NAMED.search(by), "name what shows it"
    else:
        assert len(NAMED.sub("", by).split()) > 3, "a reason is a sentence"


def is_there(name):
    if "::" in name:
        file, _, test = name.partition("::")
        return test in named_tests(bootstrap.ROOT / file)
    if name.isupper():
        return name in settings_named()
    return (bootstrap.ROOT / name).exists()


def named_tests(file: Path) -> set[str]:
    if not file.exists():
        return set()
    tree = ast.parse(file.read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


def settings_named() -> set[str]:
    tree = ast.parse((bootstrap.ROOT / "studio" / "settings.py").read_text())
    return {
        target.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }


def test_what_is_not_there_would_be_seen():
    assert not is_there("tests/attacks/test_fuzz.py::test_nothing_of_the_kind")
    assert not is_there("tests/attacks/test_no_such_file.py::test_it")
    assert not is_there("NO_SUCH_SETTING")
    assert not is_there("studio/no_such_file.py")
