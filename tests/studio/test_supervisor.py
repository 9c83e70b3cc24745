"""The supervisor with small real programs: start, start again, stop, leave nothing."""

import os
import sys
import time

import pytest

from studio import supervisor
from studio.supervisor import Child, stop_all
from tests.worker import wait_until

STUBBORN = """
import signal, time
signal.signal(signal.SIGTERM, signal.SIG_IGN)
print("ready", flush=True)
time.sleep(60)
"""
WITH_A_CHILD = """
import subprocess, sys, time
child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
open(sys.argv[1], "w").write(str(child.pid))
time.sleep(60)
"""


def child(*arguments, **fields) -> Child:
    return Child(
        label="trial",
        command=[sys.executable, "-c", *arguments],
        environment=dict(os.environ),
        **fields,
    )


def is_there(pid: int) -> bool:
    try:
        with open(f"/proc/{pid}/stat") as stat:
            return stat.read().rsplit(")", 1)[1].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_stop_ends_a_willing_child():
    willing = child("import time; time.sleep(60)")
    willing.start()
    assert willing.is_running
    assert stop_all([willing], limit_s=10) == []
    assert not willing.is_running


def test_stop_ends_a_stubborn_child_after_the_limit(capfd):
    stubborn = child(STUBBORN)
    stubborn.start()
    wait_until(lambda: "ready" in capfd.readouterr().out)
    before = time.monotonic()
    assert stop_all([stubborn], limit_s=0.5) == ["trial"]
    assert time.monotonic() - before >= 0.5
    assert not stubborn.is_running


def test_stop_takes_grandchildren_along(tmp_path):
    parent = child(WITH_A_CHILD, str(tmp_path / "pid"))
    parent.start()
    wait_until(lambda: (tmp_path / "pid").exists() and (tmp_path / "pid").read_text())
    pid = int((tmp_path / "pid").read_text())
    assert is_there(pid)
    stop_all([parent], limit_s=5)
    wait_until(lambda: not is_there(pid))


def test_dead_child_is_started_again_after_a_growing_pause(monkeypatch):
    monkeypatch.setattr(supervisor, "FIRST_PAUSE_S", 0.05)
    prepared = []
    mortal = child("raise SystemExit(3)", before_start=lambda: prepared.append(1))
    mortal.start()
    told = []

    def died_three_times():
        if said := mortal.look_after():
            told.append(said)
        return len(told) == 3

    wait_until(died_three_times)
    assert told == [
        "The trial ended unasked (code 3); starting it again in 0.05 s.",
        "The trial ended unasked (code 3); starting it again in 0.1 s.",
        "The trial ended unasked (code 3); starting it again in 0.2 s.",
    ]
    assert len(prepared) == 3
    stop_all([mortal], limit_s=5)


def test_child_that_lived_long_is_started_again_at_once(monkeypatch):
    monkeypatch.setattr(supervisor, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(supervisor, "CALM_AFTER_S", 0)
    mortal = child("raise SystemExit(3)", quick_deaths=7)
    mortal.start()
    mortal.process.wait()
    assert "again in 0.05 s" in mortal.look_after()


@pytest.mark.skipif(sys.platform != "linux", reason="Only Linux can promise this.")
def test_child_ends_when_its_parent_is_killed(tmp_path):
    code = """
import os, sys, time
from studio.supervisor import Child
child = Child(label="x", command=[sys.executable, "-c", "import time; time.sleep(60)"],
              environment=dict(os.environ))
child.start()
open(sys.argv[1], "w").write(str(child.process.pid))
time.sleep(60)
"""
    parent = child(code, str(tmp_path / "pid"))
    parent.start()
    wait_until(lambda: (tmp_path / "pid").exists() and (tmp_path / "pid").read_text())
    pid = int((tmp_path / "pid").read_text())
    assert is_there(pid)
    parent.process.kill()
    parent.process.wait()
    wait_until(lambda: not is_there(pid))
