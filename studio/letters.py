"""A short message to one person."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Letter:
    """What a message says: a title, and a few lines."""

    title: str
    text: str
