"""``simulate_firing``: JSON out, or status 2 with one line on standard error."""

import json

import pytest

from tests.commands import call, start

FIRING = {
    "glass": "90-expansion",
    "thickness_m": 0.025,
    "boundary": "top",
    "kiln_temperature": [
        [0, 700],
        [4000, 482],
        [18400, 482],
        [31600, 427],
        [66000, 21],
    ],
    "window_s": [18400, 66000],
}


def run(*options):
    return call("simulate_firing", *options)


@pytest.fixture
def file(tmp_path):
    def write(text):
        path = tmp_path / "firing.json"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_json(file):
    done = start("simulate_firing", file(json.dumps(FIRING)), "--json")
    assert (done.returncode, done.stderr) == (0, "")
    shown = json.loads(done.stdout)
    assert 0.2e6 < shown["residual_mid_pa"] < 0.6e6
    assert shown["steps"] > 50
    assert shown["seconds"] > 0


def test_words(file):
    done = run(file(json.dumps(FIRING)))
    assert done.returncode == 0
    assert "residual_mid_pa: " in done.stdout


@pytest.mark.parametrize(
    ("text", "named"),
    [
        (json.dumps(FIRING | {"thickness_m": 50}), "thickness_m"),
        (json.dumps(FIRING | {"kiln_temperature": [[0, float("nan")]]}), "kiln_temp"),
        (json.dumps(FIRING | {"glass": "green"}), "glass"),
        ("{", "file"),
        ("", "file"),
        ("[1, 2]", "object"),
    ],
)
def test_bad_input_ends_with_two_and_one_line(file, text, named):
    done = run(file(text), "--json")
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    assert named in done.stderr


def test_a_file_that_is_not_there_or_no_text(tmp_path):
    picture = tmp_path / "picture.json"
    picture.write_bytes(b"\xff\xfe\x00\x01\x80")
    for path in (tmp_path / "nothing.json", picture, tmp_path):
        done = run(path, "--json")
        assert done.returncode == 2
        assert done.stdout == ""
        assert len(done.stderr.strip().splitlines()) == 1
