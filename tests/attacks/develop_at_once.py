"""Develops pictures in a process of their own: ``develop_at_once.py COUNT FILE...``.

Each file so many times at once, one file after the other. Prints what became of each
upload, and by how much the process grew at its largest.
"""

import json
import sys
from pathlib import Path

from studio.errors import Refused
from studio.services.photographs import develop
from tests.threads import at_once

STATUS, FORGET = Path("/proc/self/status"), Path("/proc/self/clear_refs")
NOW, PEAK = "VmRSS:", "VmHWM:"


def memory_mb(what: str) -> float:
    """Return the memory of this process; `ru_maxrss` would have its parent's in it."""
    lines = STATUS.read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith(what)).split()[1]) / 1024


def developed(path: str) -> str:
    """Develop one file; return its size, or why it was refused."""
    with Path(path).open("rb") as upload:
        try:
            made = develop(upload, "it")
        except Refused as problem:
            return str(problem)
    return f"{made.width_px} x {made.height_px}"


def measured(path: str, count: int) -> dict[str, object]:
    """Develop a file so many times at once."""
    FORGET.write_text("5", encoding="ascii")  # The peak begins anew.
    before = memory_mb(NOW)
    told = at_once(*[lambda: developed(path)] * count)
    return {"told": told, "added_mb": memory_mb(PEAK) - before}


if __name__ == "__main__":
    count, *paths = sys.argv[1:]
    print(json.dumps([measured(path, int(count)) for path in paths]))
