"""Keeps child processes running until told to stop, and leaves none behind.

Standard library only; the `up` command says what the children are.
"""

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

PR_SET_PDEATHSIG = 1
STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 30.0
CALM_AFTER_S = 30.0


def die_with_parent() -> None:
    """Ask Linux to end this process when the one that started it ends.

    Other systems have no such request; an orderly stop works there too.
    """
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


@dataclass(slots=True, kw_only=True)
class Child:
    """One program that should be running."""

    label: str
    command: Sequence[str]
    environment: dict[str, str]
    pass_fds: tuple[int, ...] = ()
    before_start: Callable[[], None] | None = None
    process: "subprocess.Popen[bytes] | None" = None
    started_at: float = 0.0
    quick_deaths: int = 0
    start_again_at: float = field(default=0.0)

    def start(self) -> None:
        """Start the program in a group of its own, so Ctrl-C reaches only its parent."""
        if self.before_start is not None:
            self.before_start()
        self.process = subprocess.Popen(
            self.command,
            env=self.environment,
            pass_fds=self.pass_fds,
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=die_with_parent,  # Safe: this process has one thread.
        )
        self.started_at = time.monotonic()

    @property
    def is_running(self) -> bool:
        """Return whether the program is running."""
        return self.process is not None and self.process.poll() is None

    def signal_group(self, number: int) -> None:
        """Send a signal to the program and everything it started."""
        if self.process is not None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.process.pid, number)

    def look_after(self) -> str | None:
        """Start the program again if it has ended; return what to report."""
        now = time.monotonic()
        if self.is_running:
            return None
        if self.process is None:
            if now >= self.start_again_at:
                self.start()
            return None
        code = self.process.returncode
        self.signal_group(signal.SIGKILL)  # Whatever it left behind.
        self.process = None
        lived_s = now - self.started_at
        self.quick_deaths = 0 if lived_s > CALM_AFTER_S else self.quick_deaths + 1
        pause_s = min(
            LONGEST_PAUSE_S, FIRST_PAUSE_S * 2 ** max(0, self.quick_deaths - 1)
        )
        self.start_again_at = now + pause_s
        return (
            f"The {self.label} ended unasked (code {code}); "
            f"starting it again in {pause_s:g} s."
        )


def stop_all(children: Sequence[Child], *, limit_s: float) -> list[str]:
    """Ask every child to finish, wait, end stragglers; return the stragglers' labels."""
    running = [child for child in children if child.is_running]
    for child in running:
        assert child.process is not None  # noqa: S101 - is_running says so
        child.process.terminate()
    deadline = time.monotonic() + limit_s
    while any(child.is_running for child in running) and time.monotonic() < deadline:
        time.sleep(0.05)
    stragglers = [child for child in running if child.is_running]
    for child in children:
        child.signal_group(signal.SIGKILL)  # The group, even when its head has ended.
        if child.process is not None:
            child.process.wait()
    return [child.label for child in stragglers]


class StopRequest:
    """Notices SIGINT, SIGTERM and SIGHUP instead of dying of them."""

    def __init__(self) -> None:
        self.asked = False

    def listen(self) -> None:
        """Take over the signals; a second Ctrl-C changes nothing."""
        for number in STOP_SIGNALS:
            signal.signal(number, self._ask)

    def _ask(self, number: int, frame: object) -> None:
        self.asked = True
