"""A PostgreSQL and a Redis of the test's own, which may be killed and started again."""

import contextlib
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
import redis

from tests.attacks.test_disk import OPEN_STUDIO, manage
from tests.studio.test_up import Up, free_port
from tests.worker import wait_until

PROGRAMS = Path("/usr/lib/postgresql")


class Server:
    """A program that is killed at once and started again as it was."""

    command: list[str]

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                self.command, stdout=log, stderr=log, user=self.user, cwd=self.folder
            )
        wait_until(self.answers)

    def kill(self) -> None:
        """End it and all it started, as a power cut would."""
        mine = [self.process.pid, *children_of(self.process.pid)]
        for pid in mine:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self.process.wait()
        wait_until(lambda: not any(Path(f"/proc/{pid}").exists() for pid in mine))

    def stop_answering(self) -> None:
        """Freeze it: connections are still taken for it, and nothing is said on them."""
        for pid in [self.process.pid, *children_of(self.process.pid)]:
            os.kill(pid, signal.SIGSTOP)

    def go_on(self) -> None:
        for pid in [*children_of(self.process.pid), self.process.pid]:
            os.kill(pid, signal.SIGCONT)
        wait_until(self.answers)

    @property
    def user(self) -> str | None:
        return None


class Postgres(Server):
    """PostgreSQL on a port of its own, run by whom it accepts: not by root."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        found = sorted(PROGRAMS.glob("*/bin/initdb")) or shutil.which("initdb")
        if not found:
            pytest.skip("PostgreSQL's programs are not installed on this machine.")
        programs = Path(found[-1] if isinstance(found, list) else found).parent
        if self.user:
            shutil.chown(folder, self.user)
        subprocess.run(
            [programs / "initdb", "-D", "data", "-U", "postgres", "-A", "trust"],
            user=self.user,
            cwd=folder,
            check=True,
            capture_output=True,
        )
        self.command = [
            str(programs / "postgres"),
            *("-D", "data", "-p", str(self.port), "-h", "127.0.0.1", "-k", str(folder)),
        ]
        self.url = f"postgres://postgres@127.0.0.1:{self.port}/postgres"

    @property
    def user(self) -> str | None:
        if os.geteuid() != 0:
            return None
        try:
            return pwd.getpwnam("postgres").pw_name
        except KeyError:
            pytest.skip("There is no user to run PostgreSQL; root may not.")

    def answers(self) -> bool:
        with contextlib.suppress(psycopg.OperationalError):
            psycopg.connect(self.url, connect_timeout=2).close()
            return True
        return False

    def lose_connections_and_freeze(self) -> None:
        """Answer nobody any more, those least who were connected."""
        served = children_of(self.process.pid)
        os.kill(self.process.pid, signal.SIGSTOP)
        for pid in served:
            os.kill(pid, signal.SIGKILL)


class Redis(Server):
    """Redis on a port of its own; it keeps nothing over a restart."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        if (program := shutil.which("redis-server")) is None:
            pytest.skip("redis-server is not installed on this machine.")
        self.command = [program, "--port", str(self.port), "--save", ""]
        self.command += ["--bind", "127.0.0.1"]
        self.url = f"redis://127.0.0.1:{self.port}/0"

    def answers(self) -> bool:
        with contextlib.suppress(redis.ConnectionError):
            return bool(redis.Redis.from_url(self.url, socket_timeout=2).ping())
        return False


@contextlib.contextmanager
def own_servers() -> Iterator[tuple[Postgres, Redis]]:
    """Give both, running, and end them."""
    with contextlib.ExitStack() as later:
        made = []
        for kind in (Postgres, Redis):
            # PostgreSQL's user must reach it, and pytest's folders are closed to others.
            server = kind(Path(later.enter_context(tempfile.TemporaryDirectory())))
            server.start()
            later.callback(server.kill)
            made.append(server)
        yield made[0], made[1]


def start_with_a_studio(up: Up) -> None:
    """Make tables and a studio before `up` starts, which then has less to do."""
    code = f"""
from django.core.management import call_command
call_command("migrate", verbosity=0)
{OPEN_STUDIO}"""
    made = manage(up.folder, "shell", "-v", "0", "-c", code, **up.variables)
    assert made.returncode == 0, made.stderr
    up.start()
    up.wait_until_ready()


def children_of(pid: int) -> list[int]:
    """Return the processes that a process started, and those that they did."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with contextlib.suppress(OSError):
                parent = (entry / "stat").read_text().rsplit(")", 1)[1].split()[1]
                if int(parent) == pid:
                    found += [int(entry.name), *children_of(int(entry.name))]
    return found
