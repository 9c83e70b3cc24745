"""``judge_firing``: JSON out, or status 2 with one line on standard error."""

import json

import numpy as np
import pytest

from firing.physics.designing.design import design
from firing.physics.designing.request import DesignRequest
from firing.physics.formats.design_format import schedule_as_mapping
from firing.physics.glass.families import NINETY
from tests.commands import call, start
from tests.firing.physics.readings import cut_off, sampled

SLAB = ("--thickness", "50 mm", "--glass", "90-expansion", "--boundary", "top")


def run(*options):
    return call("judge_firing", *options)


@pytest.fixture(scope="module")
def proposed():
    return design(DesignRequest(glass=NINETY, thickness_m=0.05)).proposed


@pytest.fixture
def log(tmp_path):
    def write(readings, header="elapsed_s,temperature_c", name="readings.csv"):
        rows = (
            f"{time_s:.1f},{value:.1f}" for time_s, value in zip(*readings, strict=True)
        )
        path = tmp_path / name
        path.write_text("\n".join([header, *rows]), encoding="utf-8")
        return path

    return write


@pytest.fixture
def plan(proposed, tmp_path):
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(schedule_as_mapping(proposed.schedule)))
    return path


def test_json(proposed, log, plan):
    readings = sampled(proposed.curve, 60.0, noise_k=0.5)
    done = start("judge_firing", log(readings), *SLAB, "--schedule", plan, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    shown = json.loads(done.stdout)
    assert shown["format"] == 1
    assert shown["verdict"] == "within the limits"
    assert shown["faults"] == []
    assert [hold["segment"] for hold in shown["holds"]] == [
        "bubble squeeze",
        "full fuse",
        "anneal soak",
    ]
    for key in ("residual_mid_pa", "peak_tension_cooling_pa", "retardation_nm_cm"):
        assert shown[key]["low"] <= shown[key]["middle"] <= shown[key]["high"]
    assert len(shown["history"]["time_s"]) == len(shown["history"]["tension_pa"])


def test_cut_proposes_a_re_anneal(proposed, log):
    at_s = proposed.curve.segment_ends_s[2] + 6 * 3600
    path = log(cut_off(*sampled(proposed.curve, 60.0), at_s))
    shown = json.loads(run(path, *SLAB, "--json").stdout)
    assert shown["verdict"] == "must be annealed again"
    (chosen,) = [option for option in shown["next"] if option["is_recommended"]]
    assert chosen["action"] == "re-anneal"
    assert chosen["is_within"]
    assert chosen["schedule"]["segments"][0]["label"] == "heat-up"
    assert chosen["residual_max_tension_pa"]["high"] < 0.515e6


def test_fahrenheit_log_says_the_same(proposed, log):
    time_s, kiln_c = sampled(proposed.curve, 120.0)
    celsius = log((time_s, kiln_c))
    fahrenheit = log(
        (time_s, kiln_c * 1.8 + 32), "elapsed_s,temperature_f", name="f.csv"
    )
    one, other = (
        json.loads(run(path, *SLAB, "--json", "--no-next").stdout)
        for path in (celsius, fahrenheit)
    )
    assert one["verdict"] == other["verdict"]
    assert one["next"] == []
    assert other["residual_mid_pa"]["middle"] == pytest.approx(
        one["residual_mid_pa"]["middle"], rel=0.003
    )


def test_words(proposed, log):
    done = run(log(sampled(proposed.curve)), *SLAB, "--no-next")
    assert (done.returncode, done.stderr) == (0, "")
    assert "verdict: within the limits" in done.stdout


def refused(named, *options):
    done = run(*options)
    assert done.returncode == 2, done.stdout
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    assert named in done.stderr


def test_bad_files(tmp_path, log, proposed):
    refused("cannot be read", tmp_path / "none.csv", *SLAB)
    refused("readings", log((np.array([0.0]), np.array([20.0]))), *SLAB)
    bad = tmp_path / "bad.csv"
    bad.write_text("elapsed_s,temperature_c\n0,20\n60,nan\n120,30\n")
    refused("line 3", bad, *SLAB)
    good = log(sampled(proposed.curve))
    time_s, kiln_c = sampled(proposed.curve)
    late = time_s > proposed.curve.segment_ends_s[2]
    refused("begin at", log((time_s[late], kiln_c[late]), name="late.csv"), *SLAB)
    refused("--schedule", good, *SLAB, "--schedule", tmp_path / "none.json")
    refused("--schedule", good, *SLAB, "--schedule", bad)


def test_bad_options(log, proposed):
    good = log(sampled(proposed.curve))
    refused("--glass", good, "--thickness", "50 mm", "--glass", "crystal")
    refused("--thickness", good, "--thickness", "2 m", "--glass", "90-expansion")
    refused("--zone", good, *SLAB, "--zone", "Nowhere")
    refused("--unit", good, *SLAB, "--unit", "K")
    refused("--offset", good, *SLAB, "--offset", "200")
    refused("--offset", good, *SLAB, "--offset", "nan")
