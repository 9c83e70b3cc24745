"""Bad facts: each is refused with its key and a sentence, or accepted with a remark."""

import copy
import json
from io import StringIO

import pytest
from django.core.management import call_command

from firing.planning.problem.problem import PlanProblem
from firing.planning.problem.reading import read_problem
from firing.planning.search.feasible import check_feasible
from firing.planning.search.improve import Limits
from firing.planning.search.planner import make_plan
from tests.firing.planning.instances import document


def changed(*path_and_value):
    *path, key, value = path_and_value
    data = copy.deepcopy(document("S-1"))
    at = data
    for step in path:
        at = at[step]
    if value is DELETE:
        del at[key]
    else:
        at[key] = value
    return data


DELETE = object()
FUSE = ("pieces", 0)

BAD = [
    ("horizon", changed("horizon", 0), "horizon", "between"),
    ("horizon", changed("horizon", DELETE), "horizon", "missing"),
    ("horizon", changed("horizon", 10**12), "horizon", "1000000000000"),
    ("horizon", changed("horizon", 100.5), "horizon", "whole number"),
    ("horizon", changed("horizon", True), "horizon", "whole number"),
    ("format", changed("format", 2), "format", "format 1"),
    ("slots", changed("slot_minutes", 15), "slot_minutes", "30"),
    ("window", changed("access", 3, [200, 180]), "access[3]", "ends at 180"),
    ("window", changed("access", 3, [200]), "access[3]", "[start, end]"),
    ("no access", changed("access", []), "access", "nobody"),
    ("fuse in C", changed(*FUSE, "fuse_temp_f", 810), "fuse_temp_f", "°C"),
    ("fuse too cold", changed(*FUSE, "fuse_temp_f", 600), "fuse_temp_f", "unlikely"),
    ("kind in C", changed("kinds", 0, "temp_f", 593), "temp_f", "unlikely"),
    ("labour", changed(*FUSE, "layers", 0, 0, "labour", 0), "layers[0][0].labour", "0"),
    ("labour", changed(*FUSE, "layers", 0, 0, "labour", -3), "labour", "-3"),
    ("labour", changed(*FUSE, "layers", 0, 0, "labour", 5000), "layers", "A1 has"),
    (
        "no kind",
        changed(*FUSE, "layers", 0, 0, "kind", DELETE),
        "[0][0].kind",
        "missing",
    ),
    ("kind", changed(*FUSE, "layers", 0, 0, "kind", "x"), "layers[0][0].kind", "'x'"),
    ("artist", changed(*FUSE, "artist", "nobody"), "pieces[P1].artist", "nobody"),
    ("artist", changed(*FUSE, "artist", "F1"), "pieces[P1].artist", "cannot"),
    ("gone", changed("people", 0, "available", []), "layers", "0 h"),
    ("coldwork", changed("people", 1, "skills", []), "people", "coldwork"),
    ("skill", changed("people", 1, "skills", ["juggle"]), "skills[0]", "juggle"),
    ("too high", changed(*FUSE, "height_mm", 355), "pieces[P1].height_mm", "355"),
    ("too wide", changed(*FUSE, "width_mm", 1600), "width_mm", "K2 has a shelf"),
    ("no side", changed(*FUSE, "width_mm", 0), "pieces[P1].width_mm", "0"),
    ("weight", changed(*FUSE, "weight", -1), "pieces[P1].weight", "-1"),
    (
        "unload",
        changed(*FUSE, "fuse_unload", 30),
        "fuse_unload",
        "never open that long",
    ),
    ("load", changed("kinds", 0, "load", 30), "kinds[burnA].load", "never open"),
    ("long fuse", changed(*FUSE, "fuse_run", 5300), "fuse_run", "do not fit"),
    ("twice", changed("pieces", 1, "id", "P1"), "pieces[P1].id", "twice"),
    ("kiln", changed("fixed", 0, "kiln", "K9"), "fixed[X2].kiln", "K9"),
    (
        "overlap",
        changed("fixed", 0, {"id": "X2", "kiln": "K2", "start": 3300, "end": 3400}),
        "fixed[X2]",
        "maintenance",
    ),
    (
        "overlap",
        changed(
            "fixed",
            [
                {"id": "X1", "kiln": "K1", "start": 0, "end": 90},
                {"id": "X2", "kiln": "K1", "start": 80, "end": 99},
            ],
        ),
        "fixed[X2]",
        "X1 and X2",
    ),
    ("list", changed("pieces", {}), "pieces", "list"),
    ("layer", changed(*FUSE, "layers", 0, 7), "layers[0]", "passes"),
]


@pytest.mark.parametrize(("what", "data", "key", "words"), BAD)
def test_bad_facts_are_refused_with_their_key(what, data, key, words):
    with pytest.raises(PlanProblem) as caught:
        check_feasible(read_problem(data))
    assert key in caught.value.key, what
    assert words in str(caught.value)


def test_no_kiln_is_said_kiln_by_kiln():
    with pytest.raises(PlanProblem) as caught:
        check_feasible(read_problem(changed(*FUSE, "height_mm", 355)))
    for words in ("K1 is 350 mm high, needed 355", "K2 is 350 mm high"):
        assert words in str(caught.value)


@pytest.mark.parametrize("horizon", [1000, 2200, 2300])
def test_a_short_horizon_names_a_piece_and_one_that_would_do(horizon):
    data = changed("horizon", horizon)
    with pytest.raises(PlanProblem, match=r"horizon: P4 .*does not fit.*would do"):
        make_plan(read_problem(data), seed=1, limits=Limits(units=2000))


@pytest.mark.parametrize(
    "data",
    [
        changed(*FUSE, "layers", 0, []),
        changed(*FUSE, "weight", 0),
        changed("access", 0, [10, 80]),
        changed(*FUSE, "width_mm", 1400),
    ],
)
def test_odd_facts_are_planned(data):
    result = make_plan(read_problem(data), seed=1, limits=Limits(units=500))
    assert result.verdict.is_valid


def test_a_missing_due_day_is_never_late_and_said():
    problem = read_problem(changed(*FUSE, "due_day", DELETE))
    assert problem.pieces[0].due_day is None
    assert problem.pieces[0].weight == 0
    assert "P1" in problem.remarks[0]


def test_a_due_day_in_the_past_is_late_from_the_start():
    problem = read_problem(changed(*FUSE, "due_day", -3))
    assert "late from the start" in problem.remarks[0]


def test_windows_that_overlap_are_joined():
    apart = changed("access", [[16, 40], [64, 88], [112, 3000]])
    overlapping = changed(
        "access", [[64, 88], [16, 30], [112, 2000], [25, 40], [1999, 3000]]
    )
    assert read_problem(apart) == read_problem(overlapping)


def numbers(data, path=()):
    """Every number of a document and the way to it."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from numbers(value, (*path, key))
    elif isinstance(data, list):
        for at, value in enumerate(data[:2]):
            yield from numbers(value, (*path, at))
    elif isinstance(data, int | float) and not isinstance(data, bool):
        yield path


READ = [path for path in numbers(document("S-1")) if path[0] != "generator"]


@pytest.mark.parametrize("path", READ, ids=lambda path: ".".join(map(str, path)))
def test_no_number_of_a_file_is_taken_on_trust(path):
    """Each in turn is text, missing, true, endless, far too large: named, not planned."""
    wrong = ["7", None, True, float("inf"), float("nan"), 10**12, -(10**12)]
    for value in wrong:
        if value is None and path[-1] == "due_day":
            continue  # No due day, which is accepted and said.
        with pytest.raises(PlanProblem) as caught:
            read_problem(changed(*path, value))
        named = [str(step) for step in path if isinstance(step, str)]
        assert any(step in caught.value.key for step in named), (value, caught.value)


@pytest.mark.parametrize("name", ["kilns", "kinds", "people", "pieces", "fixed"])
def test_an_id_that_comes_twice_is_named(name):
    rows = document("S-1")[name]
    with pytest.raises(PlanProblem, match="twice") as caught:
        read_problem(changed(name, [*rows, rows[0]]))
    assert rows[0]["id"] in caught.value.key


# --- the command -------------------------------------------------------------------


def run(path, *arguments):
    out = StringIO()
    call_command("plan_kilns", str(path), *arguments, stdout=out, stderr=StringIO())
    return out.getvalue()


def test_the_command_prints_a_plan(tmp_path):
    path = tmp_path / "s.json"
    path.write_text(json.dumps(document("S-1")))
    printed = json.loads(run(path, "--seconds", "0.5", "--json"))
    assert printed["delivery"].keys() == {"P1", "P2", "P3", "P4"}
    fused = [one["piece"] for one in printed["firings"] if one["kind"] == "fuse"]
    assert sorted(fused) == ["P1", "P2", "P3", "P4"]
    assert {one["piece"] for one in printed["work"]} == set(fused)
    assert printed["objective"]["undelivered"] == 0
    assert printed["bound"]["kwh"] <= printed["objective"]["kwh"]
    assert printed["seed"] == 1
    assert "kWh" in run(path, "--seconds", "0.1")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "not JSON"),
        ('{"horizon": NaN}', "NaN"),
        ('{"horizon": 1, "horizon": 2}', "horizon: this key comes twice"),
        ("[]", "object"),
        ("{}", "horizon: missing"),
    ],
)
def test_the_command_refuses_in_one_line(tmp_path, capsys, text, words):
    path = tmp_path / "bad.json"
    path.write_text(text)
    with pytest.raises(SystemExit) as left:
        run(path, "--json")
    assert left.value.code == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert words in captured.err
    assert captured.err.count("\n") == 1


def test_a_file_that_is_not_there(tmp_path, capsys):
    with pytest.raises(SystemExit):
        run(tmp_path / "none.json")
    assert "cannot be read" in capsys.readouterr().err
