"""A firing's name, which tells it apart: what kind it is and what is in it."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from firing.models import FiringKind

if TYPE_CHECKING:
    from firing.models import LoadItem, PlannedFiring

# Kinds in a name are shorter than where they are chosen.
SHORT_KINDS: Mapping[str, str] = {FiringKind.ENAMEL: "Enamel", FiringKind.TEST: "Test"}

MOST_PARTS = 3
LONGEST = 200  # as much as a booking keeps
LONGEST_TITLE = 48


def firing_name(
    kind: str,
    *,
    stacks: Iterable[str] = (),
    layers: Iterable[tuple[str, int]] = (),
    others: Iterable[str] = (),
) -> str:
    """Return "Enamel: Mud flats 6, 8 + Reed edge 13"; only the kind of an empty one.

    `stacks` are titles of whole pieces, `layers` each the title of its piece with its
    number. A piece is named by what stands before the comma in its title; a very long
    title is cut.
    """
    numbers: dict[str, list[int]] = {}
    for title, number in layers:
        numbers.setdefault(_cut(title.partition(",")[0]), []).append(number)
    parts = [
        *map(_cut, stacks),
        *(f"{title} {_runs(found)}" for title, found in numbers.items()),
        *others,
    ]
    if len(parts) > MOST_PARTS:
        parts = [*parts[:MOST_PARTS], f"{len(parts) - MOST_PARTS} more"]
    word = SHORT_KINDS.get(kind) or str(FiringKind(kind).label)
    return f"{word}: {' + '.join(parts)}"[:LONGEST] if parts else word


def _cut(title: str) -> str:
    if len(title) <= LONGEST_TITLE:
        return title
    return f"{title[: LONGEST_TITLE - 1].rstrip()}…"


def _runs(numbers: Iterable[int]) -> str:
    """Write numbers in order, with runs of three or more as "1 to 6"."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run))
        for run in runs
    )


def name_of_load(kind: str, items: Iterable["LoadItem"]) -> str:
    """Return the name of a firing with these things in it."""
    rows = list(items)
    sheets = [row.of_pass.sheet.layer for row in rows if row.of_pass is not None]
    return firing_name(
        kind,
        stacks=[row.piece.title for row in rows if row.piece is not None],
        layers=[(layer.piece.title, layer.number) for layer in sheets],
        others=[row.description for row in rows if row.description],
    )


def name_of_planned(row: "PlannedFiring") -> str:
    """Return the name of a planned firing by what it is planned for."""
    items = row.items.all()
    return firing_name(
        row.kind,
        stacks=[one.piece.title for one in items if one.layer is None],
        layers=[(one.piece.title, one.layer.number) for one in items if one.layer],
    )
