"""What another plan would change, piece by piece, in words."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Any

from firing.plans.selectors.names import Names
from firing.plans.selectors.record import Record
from firing.plans.selectors.words import due_words, layer_words
from studio.selectors.due_dates import due_dates
from studio.viewer import Viewer, count_words, day_words


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceChanges:
    """What another plan changes for one piece, one sentence per change."""

    piece: int
    title: str
    lines: tuple[str, ...]
    delivery: str
    is_late: bool


def changes_words(
    option: Mapping[str, Any], *, viewer: Viewer, now: datetime
) -> list[PieceChanges]:
    """Return what an option changes, piece by piece, in the reader's local time."""
    names = Names(viewer.studio)
    dates = due_dates(viewer.studio)
    found = []
    rows = sorted(option["changes"], key=lambda one: one["piece"])
    for piece, group in groupby(rows, lambda one: one["piece"]):
        changes = list(group)
        delivery, is_late = "", False
        for one in changes:
            if one["what"] == "delivery":
                delivery, is_late = _delivery_change(one, dates.get(piece))
        lines = tuple(_lines(changes, names, viewer, now))
        if lines or delivery:
            found.append(
                PieceChanges(
                    piece=piece,
                    title=names.piece(piece),
                    lines=lines,
                    delivery=delivery,
                    is_late=is_late,
                )
            )
    return found


def _delivery_change(one: Record, due: date | None) -> tuple[str, bool]:
    if one["after"] == one["before"]:
        return "", False
    if one["after"] is None:
        return "No longer in the plan.", False
    ready = date.fromisoformat(one["after"])
    words, is_late = due_words(ready, due)
    if one["before"] is None:
        return f"Ready {day_words(ready)}, {words}.", is_late
    before = date.fromisoformat(one["before"])
    return f"Ready {day_words(ready)} instead of {day_words(before)}, {words}.", is_late


def _lines(
    changes: Sequence[Record], names: Names, viewer: Viewer, now: datetime
) -> Iterable[str]:
    spots: dict[tuple[Any, ...], list[int]] = defaultdict(list)
    for one in changes:
        if one["what"] == "firing":
            key = (tuple(one["before"] or ()), tuple(one["after"] or ()))
            spots[key].append(names.layers.get(one["layer"], 0))
    fuse = "The firing of the stack"

    def where(spot: Sequence[Any]) -> str:
        at = datetime.fromisoformat(spot[1])
        return f"{names.kiln(spot[0])}, {viewer.moment(at, now)}"

    for (before, after), numbers in sorted(spots.items(), key=str):
        words = layer_words(numbers)
        if moved := _from_to(before, after, where):
            yield f"{words[:1].upper()}{words[1:]}: {moved}."
    for one in changes:
        if one["what"] == "fuse":
            moved = _from_to(one["before"] or (), one["after"] or (), where)
            if moved:
                yield f"{fuse}: {moved}."
    yield from _work_lines(changes, names, viewer, now)


def _from_to(
    before: Sequence[Any], after: Sequence[Any], where: Callable[[Sequence[Any]], str]
) -> str:
    """Say what moved from where to where; nothing if both read the same."""
    if not before:
        return f"new, in {where(after)}" if after else ""
    if not after:
        return f"no longer in {where(before)}"
    was, there = where(before), where(after)
    return f"from {was} to {there}" if was != there else ""


def _work_lines(
    changes: Sequence[Record], names: Names, viewer: Viewer, now: datetime
) -> Iterable[str]:
    by_person: dict[int, list[str]] = defaultdict(list)
    for one in changes:
        if one["what"] != "work" or one["after"] == one["before"]:
            continue
        if one["after"] and one["after"][1]:
            by_person[one["after"][0]].append(one["after"][1])
    for person, starts in sorted(by_person.items()):
        first = datetime.fromisoformat(min(starts))
        yield (
            f"{names.people.get(person, 'Somebody')}: "
            f"{count_words(len(starts), 'task')} at other hours, the first now "
            f"{viewer.moment(first, now)}."
        )
