"""Reads of the files that readings came from."""

from datetime import datetime
from typing import Any

from firing.models import ReadingImport
from studio.models import Studio
from studio.tenancy import StudioQuerySet
from studio.viewer import Viewer

LINES_NAMED = 8


def imports(studio: Studio) -> StudioQuerySet[ReadingImport]:
    """Return the studio's files of readings with their firings, in order of time."""
    return (
        ReadingImport.owned.for_studio(studio)
        .select_related("firing__booking", "firing__kiln", "by")
        .order_by("first_at", "pk")
    )


def unfinished_imports() -> StudioQuerySet[ReadingImport]:
    """Return the files, of any studio, whose readings come in or are being deleted."""
    return ReadingImport.with_unfinished.filter(is_whole=False)


def told_of(source: ReadingImport, *, viewer: Viewer, now: datetime) -> str:
    """Return in words what a file brought in, and what of it was left out."""
    brought = (
        f"{source.row_count:,} readings are in: {viewer.moment(source.first_at, now)} "
        f"to {viewer.moment(source.last_at, now)}, highest "
        f"{viewer.temperature(source.highest_c)}."
    )
    return f"{brought} {left_out_words(source.read_as)}".strip()


def left_out_words(read_as: dict[str, Any]) -> str:
    """Return which lines of a file were left out; nothing if none was."""
    said = []
    if count := read_as.get("left_out_count", 0):
        lines = [f"{line:,}" for line, _ in read_as["left_out"][:LINES_NAMED]]
        more = f" and {count - LINES_NAMED:,} more" if count > LINES_NAMED else ""
        said.append(f"Left out: line{'s' * (count > 1)} {', '.join(lines)}{more}.")
    if read_as.get("is_cut_short"):
        said.append("Left out: the last line, which is cut short.")
    return " ".join(said)
