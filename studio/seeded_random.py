"""Seeded chance for the search: the same seed gives the same numbers everywhere."""

from collections.abc import MutableSequence, Sequence
from typing import TypeVar

Thing = TypeVar("Thing")
_MASK = (1 << 64) - 1


class Dice:
    """Xorshift64* (S. Vigna 2016, from memory): quick, and the same on every machine."""

    def __init__(self, seed: int) -> None:
        # A zero state would stay zero; the multiplier spreads small seeds.
        self._state = ((seed * 2 + 1) * 0x9E3779B97F4A7C15) & _MASK
        for _ in range(8):
            self._next()

    def below(self, limit: int) -> int:
        """Return a whole number from 0 to limit - 1."""
        return self._next() % limit

    def unit(self) -> float:
        """Return a number from 0 to below 1."""
        return self._next() / (1 << 48)

    def pick(self, things: Sequence[Thing]) -> Thing:
        """Return one of the things."""
        return things[self.below(len(things))]

    def shuffle(self, things: MutableSequence[Thing]) -> None:
        """Put the things in another order."""
        for last in range(len(things) - 1, 0, -1):
            other = self.below(last + 1)
            things[last], things[other] = things[other], things[last]

    def _next(self) -> int:
        state = self._state
        state ^= state >> 12
        state = (state ^ (state << 25)) & _MASK
        state ^= state >> 27
        self._state = state
        return (state * 0x2545F4914F6CDD1D & _MASK) >> 16
