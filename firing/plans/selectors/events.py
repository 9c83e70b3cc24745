"""What changed between two states of the facts that a plan rests on, in words."""

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime

from firing.plans.selectors.places import NOWHERE, PLANNED

Stored = Mapping[str, list[str]]
LONGEST_LIST = 8
OF_A_LAYER = re.compile(r"Layer (\d+) of (.*)", re.DOTALL)


def changes_between(before: Stored, after: Stored, *, now: datetime) -> list[str]:
    """Return what changed, a sentence each, the weightier first."""
    return _joined(words for _, words in _changes(before, after, now))


def events_between(before: Stored, after: Stored, *, now: datetime) -> list[str]:
    """Return what happened that a plan may break on; progress as planned is left away."""
    return _joined(
        words for is_event, words in _changes(before, after, now) if is_event
    )


def _joined(sentences: Iterable[str]) -> list[str]:
    """Say of several layers at once what is the same of each."""
    numbers: dict[str, list[str]] = {}
    for sentence in sentences:
        found = OF_A_LAYER.match(sentence)
        number, rest = found.groups() if found else ("", sentence)
        numbers.setdefault(rest, []).append(number)
    told = []
    for rest, layers in numbers.items():
        if not layers[0]:
            told.append(rest)
        else:
            word = "Layer" if len(layers) == 1 else "Layers"
            told.append(f"{word} {', '.join(layers)} of {rest}")
    return told


def _changes(before: Stored, after: Stored, now: datetime) -> list[tuple[bool, str]]:
    found = []
    for key in sorted(before.keys() | after.keys(), key=_in_order):
        old, new = before.get(key), after.get(key)
        if new is None and old is not None and _is_over(key, old, now):
            continue
        if old is None or new is None or old[0] != new[0]:
            told = _told(key.partition(":")[0], old, new)
            if told is not None:
                found.append(told)
    return sorted(found, key=lambda row: not row[0])


def _is_over(key: str, old: list[str], now: datetime) -> bool:
    """Say whether a booking or closure is gone because its time has passed."""
    parts = old[0].split("|")
    if key.startswith("away:"):
        return date.fromisoformat(parts[1]) < now.date()
    at = {"booking": 2, "closure": 1}.get(key.partition(":")[0])
    return at is not None and datetime.fromisoformat(parts[at]) <= now


def _in_order(key: str) -> tuple[str, int]:
    kind, _, number = key.partition(":")
    return kind, int(number)


def _told(
    kind: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str] | None:
    """Return one change as (whether a plan may break on it, sentence)."""
    name = (new or old or ["", ""])[1]
    if kind == "sheet":
        return None if new is None else (True, f"{name}.")
    if kind in {"pass", "uncut"}:
        return _told_pass(kind, name, old, new)
    if kind == "booking":
        return _told_booking(name, old, new)
    if kind == "inside":
        if new is None:
            return (False, f"{name} was unloaded.")
        if new[0] == "late":
            return (True, f"{name} holds its kiln longer than planned.")
        return None if old is not None else (False, f"{name} was started.")
    if kind == "piece":
        return _told_piece(name, old, new)
    if kind == "person":
        return _told_person(name, old, new)
    if kind == "kiln":
        if old is None:
            return (True, f"{name} is a new kiln.")
        return (True, f"{name} was changed.")
    if kind in {"closure", "away"}:
        return (True, f"{name}{'' if new else ': that was lifted'}.")
    return (kind == "hours", f"{name} were changed.")


def _told_pass(
    kind: str, name: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str] | None:
    if new is None:
        return None
    if old is None:
        if kind == "uncut":
            return None  # the sheet that was set aside tells of it
        if ", again" in name:
            return (True, f"{name}: to be painted and fired once more.")
        return (False, f"{name} is new.")
    was, _, had = old[0].partition("|")
    state, _, has = new[0].partition("|")
    if state in {"planned", "painted", "uncut"} and (had, has) == (PLANNED, NOWHERE):
        return (True, f"{name}: no place in the plan any more.")
    if state == was:
        return None
    words = {
        "painted": "painted",
        "planned": "not painted after all",
        "fine": "burnt on",
        "redo": "to be fired again",
        "cracked": "cracked",
    }.get(state, state)
    return (state in {"redo", "cracked"}, f"{name}: {words}.")


def _told_booking(
    name: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str] | None:
    if old is None and new is not None:
        return (not new[0].endswith("by the plan"), f"{name} was booked.")
    if new is None and old is not None:
        return (True, f"{name} no longer stands.")
    if old is None or new is None:
        return None
    before, after = old[0].split("|"), new[0].split("|")
    if before[:3] != after[:3]:
        return (True, f"{name} has other times than before.")
    if before[4] != after[4]:
        return (False, f"{name} was started.")
    if before[3] != after[3]:
        return (False, f"{name} was confirmed.")
    return (False, f"{name} was made up.")


def _told_piece(
    name: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str]:
    if old is None:
        return (True, f"{name} is a new piece.")
    if new is None:
        return (False, f"{name} is no longer in work.")
    before, after = old[0].split("|"), new[0].split("|")
    if before[2] != after[2]:
        return (True, f"{name} has another promised date.")
    if before[1] != after[1] or before[3] != after[3]:
        return (True, f"{name} was changed.")
    is_broken = after[0] in {"cracked", "fire again", "lost"}
    return (is_broken, f"{name} is {after[0]} now.")


def _told_person(
    name: str, old: list[str] | None, new: list[str] | None
) -> tuple[bool, str]:
    if old is None:
        return (True, f"{name} works here now.")
    if new is None or new[0].endswith("away"):
        return (True, f"{name} no longer works here.")
    return (True, f"{name}’s hours or role were changed.")


def in_short(sentences: Iterable[str]) -> list[str]:
    """Return a list that can be read: the first ones, and how many there are more."""
    found = list(sentences)
    if len(found) <= LONGEST_LIST:
        return found
    more = len(found) - LONGEST_LIST + 1
    return [*found[: LONGEST_LIST - 1], f"And {more} more changes."]
