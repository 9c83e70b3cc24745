"""The table of ASVS requirements names only what exists, and says why when nothing does."""

import ast
import re
from functools import cache

import pytest

from studio.bootstrap import ROOT

TABLE = ROOT / "tests" / "attacks" / "asvs.md"
REQUIREMENTS, NOT_APPLICABLE = TABLE.read_text(encoding="utf-8").split(
    "\n## Not applicable\n"
)
LINES = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in REQUIREMENTS.splitlines()
    if line.startswith("| V")
]
LEFT_OUT = [line for line in NOT_APPLICABLE.splitlines() if line.startswith("- ")]
NAMED = r"`([^`]+)`"
A_REASON = 15
"""Letters; less is no sentence."""


@cache
def functions_of(path: str) -> set[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


@cache
def settings_named() -> set[str]:
    tree = ast.parse((ROOT / "studio/settings.py").read_text(encoding="utf-8"))
    return {
        node.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store)
    }


def exists(named: str) -> bool:
    if named.startswith("settings."):
        return named.removeprefix("settings.") in settings_named()
    path, _, test = named.partition("::")
    if not (ROOT / path).is_file():
        return False
    return not test or test in functions_of(path)


def test_every_line_has_its_four_cells_and_an_id_of_its_own():
    assert len(LINES) > 100
    for line in LINES:
        assert len(line) == 4, line
        assert re.fullmatch(r"V\d+\.\d+\.\d+", line[0]), line
        assert line[1], line
    ids = [line[0] for line in LINES]
    assert len(ids) == len(set(ids))
    assert ids == sorted(ids, key=lambda name: [int(n) for n in name[1:].split(".")])


@pytest.mark.parametrize("line", LINES, ids=lambda line: line[0])
def test_what_is_covered_names_what_holds_it_and_what_is_open_says_why(line):
    _, _, state, held_by = line
    references = [name for name in re.findall(NAMED, held_by) if "." in name]
    missing = [name for name in references if not exists(name)]
    assert not missing, "Named and not there."
    assert state in {"covered", "open"}
    if state == "covered":
        assert references, "Nothing is named that holds it."
    else:
        assert len(re.sub(NAMED, "", held_by).strip()) >= A_REASON, "No reason."


def test_what_is_left_out_says_why_and_is_not_in_the_table_too():
    assert LEFT_OUT
    for line in LEFT_OUT:
        names, _, reason = line.removeprefix("- ").partition(": ")
        assert len(reason) >= A_REASON, line
        for name in names.split(", "):
            assert re.fullmatch(r"V\d+(\.\d+){0,2}", name), line
            within = [row[0] for row in LINES if f"{row[0]}.".startswith(f"{name}.")]
            assert not within, f"{name} is in the table: {within}"


def test_a_test_or_setting_that_is_not_there_is_noticed():
    assert exists("tests/contracts/test_asvs.py::exists")
    assert not exists("tests/contracts/test_asvs.py::test_nothing")
    assert not exists("tests/contracts/test_nothing.py")
    assert exists("settings.SECRET_KEY")
    assert not exists("settings.NOTHING")
