"""Why something cannot be planned at all, as facts: ids, lengths in slots, mm and °F.

`cannot_words` puts them into a sentence.
"""

from dataclasses import dataclass
from enum import StrEnum

from firing.planning.problem.problem import Skill

Size = tuple[float, float]


class Door(StrEnum):
    """What somebody has to be in for."""

    LOAD = "load"
    UNLOAD = "unload"


@dataclass(frozen=True, slots=True, kw_only=True)
class NobodyComesIn:
    """There are no hours in which a kiln could be loaded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoKilns:
    """There is no kiln at all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LacksSkill:
    """A piece's artist lacks a skill that the piece needs."""

    piece: str
    artist: str
    skill: Skill


@dataclass(frozen=True, slots=True, kw_only=True)
class NobodyForColdwork:
    """Nobody who does cold work has hours."""

    piece: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DoorTooShort:
    """Loading or unloading takes longer than anybody is ever in.

    It belongs to a kind of enamel firing, or to a piece's fuse.
    """

    door: Door
    needed: int
    longest: int
    kind: str = ""
    piece: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnLimits:
    """The limits of a kiln that are too small for a piece: None where one is enough."""

    kiln: str
    is_barred: bool = False
    reaches_f: float | None = None
    height_mm: float | None = None
    shelf_mm: Size | None = None

    @property
    def is_broken(self) -> bool:
        """Return whether any limit is too small."""
        return self.is_barred or any(
            one is not None for one in (self.reaches_f, self.height_mm, self.shelf_mm)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class NoKilnTakes:
    """No kiln takes a layer in a kind of firing, or the stack if that is empty."""

    piece: str
    kind: str
    temp_f: float
    height_mm: float
    size_mm: Size
    kilns: tuple[KilnLimits, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginsTooLate:
    """The horizon is no longer than a piece's release and its fuse."""

    piece: str
    release: int
    horizon: int
    needed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class NoGapForFuse:
    """A fuse is longer than every gap of the kilns that take it."""

    piece: str
    needed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TooMuchLabour:
    """Painting and assembly take more than an artist's hours before the horizon."""

    piece: str
    artist: str
    needed: int
    has: int
    release: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DoesNotFit:
    """A piece has no room before the horizon; `enough` is one that would do, if any."""

    piece: str
    horizon: int
    enough: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoRoomUnmoved:
    """A piece has no room before the horizon while nothing moves."""

    piece: str
    horizon: int


Cannot = (
    NobodyComesIn
    | NoKilns
    | LacksSkill
    | NobodyForColdwork
    | DoorTooShort
    | NoKilnTakes
    | BeginsTooLate
    | NoGapForFuse
    | TooMuchLabour
    | DoesNotFit
    | NoRoomUnmoved
)
# A longer horizon may change these.
OF_THE_HORIZON = (BeginsTooLate, DoesNotFit, NoRoomUnmoved)
MAY_FIT_LATER = (*OF_THE_HORIZON, TooMuchLabour, NoGapForFuse)
