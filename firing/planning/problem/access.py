"""When people may be at the kilns: the earliest and the latest moment for a task.

Answers come from tables made once per length of task, because the planner asks for them
a million times. `hours` says who is there, `board` which kiln is free.
"""

from bisect import bisect_left
from dataclasses import dataclass

from firing.planning.problem.problem import Window

# Later than every slot of every horizon.
NEVER = 1 << 40


@dataclass(frozen=True, slots=True)
class Run:
    """One firing in time [slots]: door closed from `start`, free again at `end`."""

    start: int
    unload: int
    end: int


class AccessTimes:
    """Tables over the access windows of one horizon."""

    def __init__(self, windows: tuple[Window, ...], horizon: int) -> None:
        self.windows = windows
        self.horizon = horizon
        self._next: dict[int, list[int]] = {}
        self._last: dict[int, list[int]] = {}
        self._nights: dict[tuple[int, int, int], list[Run]] = {}

    def earliest(self, length: int) -> list[int]:
        """Return, per slot, the first start from then on wholly in access."""
        table = self._next.get(length)
        if table is None:
            table = [NEVER] * (self.horizon + 2)
            latest = NEVER
            starts = self._starts(length)
            for slot in range(self.horizon, -1, -1):
                if starts[slot]:
                    latest = slot
                table[slot] = latest
            self._next[length] = table
        return table

    def latest(self, length: int) -> list[int]:
        """Return, per slot, the last start up to then wholly in access."""
        table = self._last.get(length)
        if table is None:
            table = [-1] * (self.horizon + 2)
            last = -1
            starts = self._starts(length)
            for slot in range(self.horizon + 1):
                if starts[slot]:
                    last = slot
                table[slot] = last
            self._last[length] = table
        return table

    def is_open(self, start: int, length: int) -> bool:
        """Return whether somebody may be in for this long from `start` on."""
        return 0 <= start <= self.horizon and self.earliest(length)[start] == start

    def run_from(self, ready: int, load: int, run: int, unload: int) -> Run | None:
        """Return the firing that is unloaded first, if loaded from `ready` on.

        It is loaded as late as that unloading allows: an earlier start would only hold
        the kiln for longer.
        """
        if ready > self.horizon:
            return None
        start = self.earliest(load)[ready]
        done = start + load + run
        if done > self.horizon:
            return None
        opened = self.earliest(unload)[done]
        if opened + unload > self.horizon:
            return None
        start = self.latest(load)[opened - load - run]
        return Run(start, opened, opened + unload)

    def nights(self, load: int, run: int, unload: int) -> list[Run]:
        """Return every firing of this length that no other one dominates, in order."""
        key = (load, run, unload)
        found = self._nights.get(key)
        if found is None:
            found = []
            ready = 0
            while (one := self.run_from(ready, load, run, unload)) is not None:
                found.append(one)
                ready = one.start + 1
            self._nights[key] = found
        return found

    def _starts(self, length: int) -> bytearray:
        allowed = bytearray(self.horizon + 2)
        for opens, closes in self.windows:
            last = min(closes, self.horizon) - length
            for slot in range(max(opens, 0), last + 1):
                allowed[slot] = 1
        return allowed


def first_night(nights: list[Run], ready: int) -> int:
    """Return the number of the first firing loaded at `ready` or later.

    Parameters
    ----------
    nights : list of Run
        In order of their starts [slots].
    ready : int
        When the glass is ready [slots].

    References
    ----------
    Bisection.
    """
    return bisect_left(nights, ready, key=lambda one: one.start)
