"""The free hours of one person: availability less the assigned work, and the weekly
limit. It assigns the earliest free slots and takes them back; it knows no tasks.
"""

from bisect import bisect_right
from collections.abc import Iterable

from firing.planning.problem.problem import SLOTS_PER_WEEK, PlannedPerson, Window

# Which slots of a window: bit n is the window's start + n.
Share = tuple[int, int]


class Hours:
    """A person's windows as bit masks of free slots, cut at the ends of weeks."""

    def __init__(self, person: PlannedPerson, horizon: int) -> None:
        self.starts: list[int] = []
        self.ends: list[int] = []
        self.week: list[int] = []
        self.free: list[int] = []
        for opens, closes in person.available:
            start, stop = max(opens, 0), min(closes, horizon)
            while start < stop:
                week = start // SLOTS_PER_WEEK
                end = min(stop, (week + 1) * SLOTS_PER_WEEK)
                self.starts.append(start)
                self.ends.append(end)
                self.week.append(week)
                self.free.append((1 << (end - start)) - 1)
                start = end
        weeks = horizon // SLOTS_PER_WEEK + 1
        self.left = [person.weekly_cap] * weeks
        self.of_week = [range(0)] * weeks
        for number, week in enumerate(self.week):
            first = self.of_week[week].start if self.of_week[week] else number
            self.of_week[week] = range(first, number + 1)
        has_any = person.weekly_cap > 0
        self.is_open = bytearray([1 if has_any else 0]) * len(self.starts)
        self.give_booked(person.booked, horizon)

    def copy(self) -> "Hours":
        """Return a copy of the hours that changes independently from here on."""
        # What never changes is shared: a board is made for every what-if question.
        other = Hours.__new__(Hours)
        other.starts, other.ends = self.starts, self.ends
        other.week, other.of_week = self.week, self.of_week
        other.free, other.left = self.free.copy(), self.left.copy()
        other.is_open = self.is_open.copy()
        return other

    def give_booked(self, booked: Iterable[Window], horizon: int) -> None:
        """Assign what is assigned already, in availability or not."""
        for begin, end in booked:
            for at in range(max(begin, 0), min(end, horizon)):
                week = at // SLOTS_PER_WEEK
                self.left[week] = max(0, self.left[week] - 1)
                window = bisect_right(self.ends, at)
                if window < len(self.ends) and self.starts[window] <= at:
                    self.free[window] &= ~(1 << (at - self.starts[window]))
        for window, week in enumerate(self.week):
            if not self.left[week] or not self.free[window]:
                self.is_open[window] = 0

    def give_same(self, other: "Hours", *, keeps_limit: bool) -> None:
        """Assign what is assigned in other hours with the same windows."""
        self.free = list(other.free)
        if keeps_limit:
            self.left = list(other.left)
            self.is_open = bytearray(other.is_open)
        else:
            self.is_open = bytearray(1 if mask else 0 for mask in self.free)

    def given(self, fresh: "Hours") -> list[Window]:
        """Return the slots that are assigned here and free in fresh hours."""
        found = []
        for start, free, at_first in zip(
            self.starts, self.free, fresh.free, strict=True
        ):
            gone = at_first & ~free
            while gone:
                first = (gone & -gone).bit_length() - 1
                run = gone >> first
                length = (~run & (run + 1)).bit_length() - 1
                found.append((start + first, start + first + length))
                gone &= ~(((1 << length) - 1) << first)
        return found

    def take(self, ready: int, length: int) -> tuple[int, list[Share]] | None:
        """Assign the earliest free slots from `ready` on.

        Returns the end of the work and the slots, or None (and nothing is assigned)
        when the horizon does not hold that much.
        """
        if length == 0:
            return ready, []
        shares: list[Share] = []
        window = bisect_right(self.ends, ready)
        while (window := self.is_open.find(1, window)) >= 0:
            start, mask = self.starts[window], self.free[window]
            if ready > start:
                mask = mask >> (ready - start) << (ready - start)
                if not mask:
                    window += 1
                    continue
            bits, count = _lowest(mask, min(length, self.left[self.week[window]]))
            self._give_out(window, bits, count)
            shares.append((window, bits))
            length -= count
            if length == 0:
                return start + bits.bit_length(), shares
            window += 1
        self.put_back(shares)
        return None

    def take_again(self, shares: Iterable[Share]) -> None:
        """Assign exactly these slots, which are free."""
        for window, bits in shares:
            self._give_out(window, bits, bits.bit_count())

    def can_take(self, shares: Iterable[Share]) -> bool:
        """Return whether exactly these slots are free and within the weekly limits."""
        used: dict[int, int] = {}
        for window, bits in shares:
            if bits & ~self.free[window]:
                return False
            week = self.week[window]
            used[week] = used.get(week, 0) + bits.bit_count()
        return all(count <= self.left[week] for week, count in used.items())

    def put_back(self, shares: Iterable[Share]) -> None:
        """Free assigned slots again."""
        for window, bits in shares:
            week = self.week[window]
            self.free[window] |= bits
            if self.left[week]:
                self.is_open[window] = 1
            else:
                for other in self.of_week[week]:
                    if self.free[other]:
                        self.is_open[other] = 1
            self.left[week] += bits.bit_count()

    def segments(self, shares: Iterable[Share]) -> list[Window]:
        """Return the slots as segments of time, in order, joined where they touch."""
        found: list[Window] = []
        for window, bits in sorted(shares):
            start = self.starts[window]
            while bits:
                first = (bits & -bits).bit_length() - 1
                length = ((bits >> first) ^ ((bits >> first) + 1)).bit_length() - 1
                begin = start + first
                if found and found[-1][1] == begin:
                    found[-1] = (found[-1][0], begin + length)
                else:
                    found.append((begin, begin + length))
                bits &= ~(((1 << length) - 1) << first)
        return found

    def shares_of(self, segments: Iterable[Window]) -> list[Share] | None:
        """Return segments of time as slots; None if they are not all free."""
        shares: dict[int, int] = {}
        for begin, end in segments:
            at = begin
            while at < end:
                window = bisect_right(self.ends, at)
                if window == len(self.ends) or self.starts[window] > at:
                    return None
                start, stop = self.starts[window], min(self.ends[window], end)
                bits = ((1 << (stop - at)) - 1) << (at - start)
                if bits & ~self.free[window] or bits & shares.get(window, 0):
                    return None
                shares[window] = shares.get(window, 0) | bits
                at = stop
        used: dict[int, int] = {}
        for window, bits in shares.items():
            week = self.week[window]
            used[week] = used.get(week, 0) + bits.bit_count()
        if any(count > self.left[week] for week, count in used.items()):
            return None
        return sorted(shares.items())

    def _give_out(self, window: int, bits: int, count: int) -> None:
        week = self.week[window]
        self.free[window] ^= bits
        self.left[week] -= count
        if not self.left[week]:
            for other in self.of_week[week]:
                self.is_open[other] = 0
        elif not self.free[window]:
            self.is_open[window] = 0


def _lowest(mask: int, most: int) -> tuple[int, int]:
    """Return the lowest `most` bits of the mask and how many they are."""
    count = mask.bit_count()
    if count <= most:
        return mask, count
    bits = (mask & -mask) * ((1 << most) - 1)
    if bits & mask != bits:
        bits, rest = 0, mask
        for _ in range(most):
            low = rest & -rest
            bits |= low
            rest ^= low
    return bits, most
