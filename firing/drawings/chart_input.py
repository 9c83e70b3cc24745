"""What a firing chart shows before it has a size: curves, holds, alarms, scales.

Units and words come in as functions, so the chart needs no knowledge of the reader.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from firing.drawings.curves import FloatArray

LONGEST_GAP_S = 1800.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartScale:
    """How the reader's scale converts temperature, both ways, and how it is written."""

    to_viewer: Callable[[float], float]
    from_viewer: Callable[[float], float]
    text: Callable[[float], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartCurve:
    """A curve: seconds since the firing's start, °C."""

    time_s: FloatArray
    temperature_c: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedCurve:
    """Another plan to compare with, by name: seconds since the start, °C."""

    name: str
    time_s: FloatArray
    temperature_c: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartHold:
    """A hold, labelled in words ("Anneal soak, 4 h")."""

    from_s: float
    to_s: float
    temperature_c: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartAlarm:
    """Something that went wrong at a certain time, in words."""

    at_s: float
    words: str
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartCut:
    """A time that is known to be something ("Power cut"), with or without readings."""

    from_s: float
    to_s: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartSize:
    """The drawing's size and margins in pixels."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float


WIDE = ChartSize(width=860, height=380, left=66, right=10, top=14, bottom=30)
NARROW = ChartSize(width=360, height=320, left=58, right=6, top=14, bottom=28)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartInput:
    """All that a chart shows, before it has a size.

    `window_s` cuts the time axis (zoom); without it the whole firing is shown.
    `anneal_range_c` is (lower, upper), with `anneal_words` written in it. `compared`
    are up to three further plans, drawn over the planned one in dashes of their own.
    """

    title: str
    starts_at: datetime
    zone: tzinfo
    scale: ChartScale
    show_when: Callable[[datetime], str]
    planned: ChartCurve | None = None
    planned_name: str = "planned"
    compared: Sequence[NamedCurve] = ()
    recorded: ChartCurve | None = None
    holds: Sequence[ChartHold] = ()
    alarms: Sequence[ChartAlarm] = ()
    cuts: Sequence[ChartCut] = ()
    anneal_range_c: tuple[float, float] | None = None
    anneal_words: str = "annealing range"
    window_s: tuple[float, float] | None = None
    now: datetime | None = None
    longest_gap_s: float = LONGEST_GAP_S

    def at(self, at_s: float) -> datetime:
        """Return the instant this many seconds after the start."""
        return self.starts_at + timedelta(seconds=at_s)

    def when(self, at_s: float) -> str:
        """Write that instant for the reader."""
        return self.show_when(self.at(at_s))
