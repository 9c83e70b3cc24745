"""``design_schedule``: JSON out, or status 2 with one line on standard error."""

import json

import pytest

from tests.commands import call, start

WIDE = ("--thickness", "9 mm", "--glass", "float", "--longest-side")


@pytest.fixture(scope="module")
def sixty():
    """Design 60 mm by a real start, the one of this command."""
    slab = ("--thickness", "60 mm", "--glass", "90-expansion", "--boundary", "top")
    done = start("design_schedule", *slab, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    return json.loads(done.stdout)


def test_json(sixty):
    assert sixty["format"] == 1
    assert sixty["thickness_m"] == pytest.approx(0.06)
    assert sixty["is_within"] is True
    assert sixty["residual_max_tension_pa"]["high"] <= 0.5e6
    assert sixty["peak_tension_cooling_pa"]["high"] <= 3e6
    assert [part["rule"] for part in sixty["compared"]] == [
        "table row",
        "next row",
        "exact rule",
    ]
    assert sixty["anneal_s"] >= sixty["compared"][0]["anneal_s"]


def test_its_curve_can_be_simulated(sixty, tmp_path):
    """What `simulate_firing` says of the curve lies in the band (faces exact)."""
    path = tmp_path / "firing.json"
    path.write_text(
        json.dumps(
            {
                "glass": "90-expansion",
                "thickness_m": 0.06,
                "boundary": "top",
                "start_c": 800,
                "kiln_temperature": [
                    point
                    for point in sixty["kiln_temperature"]
                    if point[0] >= sixty["segment_ends_s"][1]
                ],
            }
        )
    )
    done = call("simulate_firing", path, "--json")
    assert done.returncode == 0, done.stderr
    shown, band = json.loads(done.stdout), sixty["residual_max_tension_pa"]
    assert band["low"] <= shown["residual_max_tension_pa"] <= band["high"]
    band = sixty["peak_tension_cooling_pa"]
    assert band["low"] <= shown["peak_tension_cooling_pa"] <= band["high"]


def test_words_and_inches():
    done = call(
        "design_schedule",
        "--thickness",
        '1 1/2"',
        "--glass",
        "float",
        "--unit",
        "F",
        "--no-floor",
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "residual_max_tension_pa" in done.stdout
    assert "floor: None" in done.stdout


def test_a_kiln_that_shows_too_little_is_told_less_and_does_the_same(sixty):
    slab = ("--thickness", "60 mm", "--glass", "90-expansion", "--boundary", "top")
    done = call("design_schedule", *slab, "--offset", "8", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    hot = json.loads(done.stdout)
    assert (sixty["kiln_offset_k"], hot["kiln_offset_k"]) == (0, 8)
    typed = [
        next(
            segment["target_c"]
            for segment in found["schedule"]["segments"]
            if segment["label"] == "anneal soak"
        )
        for found in (sixty, hot)
    ]
    assert typed[1] == typed[0] - 8
    assert hot["soak_c"] == sixty["soak_c"]
    hottest = [max(c for _, c in found["kiln_temperature"]) for found in (sixty, hot)]
    assert hottest[1] == pytest.approx(hottest[0], abs=0.5)
    tension = [found["residual_max_tension_pa"]["middle"] for found in (sixty, hot)]
    assert tension[1] == pytest.approx(tension[0], rel=0.02)


@pytest.mark.parametrize(
    ("options", "named"),
    [
        (["--glass", "float"], "--thickness"),
        (["--thickness", "60 mm"], "--glass"),
        (["--thickness", "-3 mm", "--glass", "float"], "--thickness"),
        (["--thickness", "160 mm", "--glass", "float"], "--thickness"),
        (["--thickness", "1e999", "--glass", "float"], "--thickness"),
        (["--thickness", "60 mm", "--glass", "crystal"], "--glass"),
        (["--thickness", "60 mm", "--glass", "float-tempering"], "--glass"),
        (["--thickness", "9 mm", "--glass", "float", "--boundary", "x"], "--boundary"),
        (
            ["--thickness", "9 mm", "--glass", "float", "--rate-step", "0"],
            "--rate-step",
        ),
        (["--thickness", "9 mm", "--glass", "float", "--bending", "x"], "--bending"),
        (["--thickness", "9 mm", "--glass", "float", "--limits", "3 1"], "--limits"),
        (["--thickness", "9 mm", "--glass", "float", "--limits", "a b c"], "--limits"),
        (["--thickness", "9 mm", "--glass", "float", "--limits", "1 2 3"], "--limits"),
        (["--thickness", "9 mm", "--glass", "float", "--kind", "melt"], "--kind"),
        (["--thickness", "9 mm", "--glass", "float", "--soak", "900 C"], "--soak"),
        (["--thickness", "9 mm", "--glass", "float", "--unit", "K"], "--unit"),
        (["--thickness", "9 mm", "--glass", "float", "--offset", "200"], "--offset"),
        (["--thickness", "9 mm", "--glass", "float", "--offset", "nan"], "--offset"),
        (["--thickness", "9 mm", "--glass", "float", "--colour", "x"], "--colour"),
        (["--thickness", "9 mm", "--glass", "float", "--edge", "warm"], "--edge"),
        ([*WIDE, "9000 mm"], "--longest-side"),
        ([*WIDE, "400 mm", "--edge", "3 1"], "--edge"),
        ([*WIDE, "400 mm", "--edge", "nan 1"], "--edge"),
    ],
)
def test_bad_input(options, named):
    done = call("design_schedule", *options)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    assert named in done.stderr


def test_a_kiln_that_is_uneven_over_the_slab(sixty):
    slab = ("--thickness", "60 mm", "--glass", "90-expansion", "--boundary", "top")
    uneven = (*slab, "--longest-side", "400 mm", "--edge", "2 4", "--json")
    found = json.loads(call("design_schedule", *uneven).stdout)
    added = found["across"]["residual_pa"]
    assert 0.2e6 < added["low"] < added["high"] < 1e6
    assert found["is_within"] is False
    assert 0.1 < found["widest_m"] < 0.4
    assert "across" not in sixty
    assert sixty["widest_m"] is None
