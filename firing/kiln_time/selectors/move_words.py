"""A verdict on a move, as sentences and as values for the script to draw."""

from datetime import datetime
from typing import Any

from firing.kiln_time.selectors.moving import MoveVerdict
from studio.viewer import Viewer


def span_words(verdict: MoveVerdict, viewer: Viewer, now: datetime) -> str:
    """Say where and when it would be: "Heron, Tue 10:00 to Sun 11:30, open Sun 11:00"."""
    words = (
        f"{verdict.kiln}, {viewer.moment(verdict.starts_at, now)} to "
        f"{viewer.moment(verdict.ends_at, now)}"
    )
    if verdict.opens_at is not None:
        words += f", may be opened {viewer.moment(verdict.opens_at, now)}"
    return words


def nearest_words(verdict: MoveVerdict, viewer: Viewer, now: datetime) -> str:
    """Say which permitted start is nearest, if the requested one is not permitted."""
    if verdict.is_permitted:
        return ""
    if verdict.nearest is None:
        return f"{verdict.kiln} has no room for it within half a year."
    return f"The nearest start is {viewer.moment(verdict.nearest, now)}."


def drawn(verdict: MoveVerdict, viewer: Viewer, now: datetime) -> dict[str, Any]:
    """Return a verdict for the script: instants in seconds since the epoch, and words."""
    parts = ["That is where it is."]
    if not verdict.is_where_it_is:
        parts = [
            *verdict.problems,
            nearest_words(verdict, viewer, now),
            *verdict.consequences,
        ]
    return {
        "permitted": verdict.is_permitted,
        "starts": int(verdict.starts_at.timestamp()),
        "ends": int(verdict.ends_at.timestamp()),
        "snap": None if verdict.snap_to is None else int(verdict.snap_to.timestamp()),
        "place": span_words(verdict, viewer, now),
        "words": " ".join(part for part in parts if part) or "It can go there.",
    }
