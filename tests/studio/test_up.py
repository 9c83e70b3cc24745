"""`manage.py up` as people use it: a real process, a real port, real signals."""

import contextlib
import os
import random
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from studio import bootstrap
from tests.patience import LONG_S
from tests.worker import wait_until

pytestmark = [pytest.mark.worker, pytest.mark.slow]


def free_port() -> int:
    """Return a port that is free, from below those that systems hand out themselves.

    So nothing that connects meanwhile is given it, in this process or another.
    """
    for port in random.sample(range(20_000, 32_000), 100):
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
    pytest.fail("Of a hundred ports none is free.")


class Up:
    """One `up`, on a folder of its own and without any other variable but those given."""

    def __init__(self, folder: Path, port: int, **variables: str) -> None:
        self.folder = folder
        self.variables = variables
        self.port = port
        self.log_path = folder.with_suffix(f".{port}.log")
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, *options: str) -> None:
        environment = {
            key: value for key, value in os.environ.items() if "STUDIO_" not in key
        }
        environment.pop("DJANGO_SETTINGS_MODULE", None)
        environment |= {
            "STUDIO_NO_BOOTSTRAP": "1",
            "STUDIO_VAR_DIR": str(self.folder),
            "STUDIO_JOB_SWEEP_SECONDS": "1",
            **self.variables,
        }
        command = [sys.executable, str(bootstrap.ROOT / "manage.py"), "up"]
        command += ["--port", str(self.port), "--no-demo", *options]
        with self.log_path.open("wb") as log:
            self.process = subprocess.Popen(
                command,
                env=environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
                umask=0o022,  # As most shells have it.
            )

    def wait_until_ready(self) -> None:
        def is_ready():
            assert self.process.poll() is None, self.log
            return "Slowcool is at" in self.log

        wait_until(is_ready)

    def get(self, path: str) -> tuple[int, str]:
        address = f"http://127.0.0.1:{self.port}{path}"
        with urllib.request.urlopen(address, timeout=LONG_S) as response:
            return response.status, response.read().decode()

    @property
    def log(self) -> str:
        return self.log_path.read_text(errors="replace")

    def stop(self, number: int = signal.SIGINT) -> int:
        self.process.send_signal(number)
        return self.process.wait(timeout=LONG_S)

    def pids(self) -> list[int]:
        """Return the processes that were started on this folder and still are."""
        mark = f"STUDIO_VAR_DIR={self.folder}\0".encode()
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdigit():
                with contextlib.suppress(OSError):
                    if mark in (entry / "environ").read_bytes():
                        found.append(int(entry.name))
        return found

    def end(self) -> None:
        """End whatever still runs on its folder."""
        for pid in self.pids():
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        if self.process is not None:
            self.process.wait()


@pytest.fixture
def up(tmp_path):
    started = Up(tmp_path / "var", free_port())
    yield started
    started.end()


def worker_pid(up: Up) -> int:
    """Return the head of the worker: the celery process that `up` started."""
    for pid in up.pids():
        words = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
        parent = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[1]
        if b"celery" in words and int(parent) == up.process.pid:
            return pid
    return 0


def test_serves_works_and_stops_cleanly(up, tmp_path):
    """Two starts, as each takes long: all that can be seen of an `up`."""
    up.start()
    up.wait_until_ready()
    it_serves(up)
    it_connects_to_no_other_server(up)
    a_second_one_is_told_of_the_first(up)
    a_taken_port_is_told_of(up, tmp_path / "elsewhere")
    its_killed_worker_is_started_again(up)
    if sys.platform == "linux":  # Only Linux can promise this.
        killed_it_leaves_nothing_running(up)
        up.start()
        up.wait_until_ready()
    assert up.stop(signal.SIGINT) == 0, up.log
    assert up.pids() == []
    assert "Stopped." in up.log
    assert "Traceback" not in up.log


def it_serves(up):
    assert up.get("/healthz") == (200, "up\n")
    status, answer = up.get("/readyz")
    assert status == 200
    assert '"database": true' in answer
    assert ":root" in up.get("/static/studio/css/tokens.css")[1]
    status, page = up.get("/sign-in/")
    assert status == 200
    assert "<form" in page
    assert (up.folder / "slowcool.sqlite3").exists()


def it_connects_to_no_other_server(up):
    """Redis and PostgreSQL may run on this machine: without variables they are let be."""
    wait_until(lambda: len(up.pids()) >= 6)  # up, web 2, worker 3
    theirs = {f":{port:04X}" for port in (5432, 6379)}
    for pid in up.pids():
        sockets = {
            os.readlink(link)
            for link in Path(f"/proc/{pid}/fd").iterdir()
            if link.is_symlink()
        }
        rows = Path(f"/proc/{pid}/net/tcp").read_text().splitlines()[1:]
        for row in map(str.split, rows):
            if f"socket:[{row[9]}]" in sockets:
                assert row[2][8:] not in theirs, (pid, row)


def a_second_one_is_told_of_the_first(up):
    second = Up(up.folder, free_port())
    second.start()
    assert second.process.wait(timeout=LONG_S) == 1
    assert f"already runs on this data folder (process {up.process.pid})" in second.log
    assert "Traceback" not in second.log


def a_taken_port_is_told_of(up, folder):
    elsewhere = Up(folder, up.port)
    elsewhere.start()
    assert elsewhere.process.wait(timeout=LONG_S) == 1
    assert f"Port {up.port} on 127.0.0.1 cannot be used" in elsewhere.log
    assert "--port" in elsewhere.log
    assert not (elsewhere.folder / "slowcool.sqlite3").exists()


def its_killed_worker_is_started_again(up):
    """As the system kills it when memory runs out."""
    wait_until(lambda: worker_pid(up))
    first = worker_pid(up)
    os.killpg(first, signal.SIGKILL)
    wait_until(lambda: worker_pid(up) not in {0, first})
    assert "The background worker ended unasked" in up.log


def killed_it_leaves_nothing_running(up):
    wait_until(lambda: len(up.pids()) >= 6)  # up, web 2, worker 3
    up.process.kill()
    up.process.wait()
    wait_until(lambda: up.pids() == [])
