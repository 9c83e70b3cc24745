"""Which part of a firing a chart shows: a named one, or between any two moments."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from firing.physics.schedule import Programme

Window = tuple[float, float]

WHOLE = "whole"
LABELS = {
    WHOLE: "Whole firing",
    "heating": "Heating",
    "soak": "Anneal soak",
    "cooling": "Cooling",
}
AROUND_SOAK_S = 1800.0
SHORTEST_S = 600.0
MOMENTS = re.compile(r"(\d{1,8})-(\d{1,8})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Zoom:
    """A part of the firing to look at, as a link."""

    label: str
    part: str
    current: bool
    kept: str = ""
    """What else the page's address holds, ending in "&"."""
    anchor: str = "chart"

    @property
    def href(self) -> str:
        return f"?{self.kept}part={self.part}#{self.anchor}"


def parts_of(
    programme: Programme, ends_s: tuple[float, ...], *, starts_s: float, lasts_s: float
) -> dict[str, Window | None]:
    """Return the named parts that a page offers; the whole has no window.

    `ends_s` are the ends of the programme's segments, `starts_s` when the first began
    and `lasts_s` when the kiln may be opened.
    """
    labels = [segment.label for segment in programme.segments]
    parts: dict[str, Window | None] = {WHOLE: None}
    if "anneal soak" not in labels:
        return parts
    soak = labels.index("anneal soak")
    soak_from = ends_s[soak] - programme.segments[soak].hold_s
    if soak:
        parts["heating"] = (0.0, ends_s[soak - 1])
    parts["soak"] = (
        max(starts_s, soak_from - AROUND_SOAK_S),
        ends_s[soak] + AROUND_SOAK_S,
    )
    parts["cooling"] = (ends_s[soak], lasts_s)
    return parts


def window_of(
    part: str, parts: Mapping[str, Window | None], *, lasts_s: float
) -> tuple[str, Window | None]:
    """Return the part to show and its window; anything unknown is the whole.

    Besides a name it may be two moments in seconds, such as "36000-72000".
    """
    if part in parts:
        return part, parts[part]
    moments = MOMENTS.fullmatch(part)
    if moments is None:
        return WHOLE, None
    from_s, to_s = (min(float(text), lasts_s) for text in moments.groups())
    return (part, (from_s, to_s)) if to_s - from_s >= SHORTEST_S else (WHOLE, None)


def zooms_of(
    parts: Mapping[str, Window | None],
    shown: str,
    *,
    kept: str = "",
    anchor: str = "chart",
) -> tuple[Zoom, ...]:
    """Return the links to the named parts."""
    return tuple(
        Zoom(
            label=LABELS[name],
            part=name,
            current=name == shown,
            kept=kept,
            anchor=anchor,
        )
        for name in parts
    )
