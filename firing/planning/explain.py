"""Why a piece comes on its day: the chain of waits back from the delivery, summed per
cause, and the one or two changes that would bring most.

The chain is read off the board; what a change would bring is found by putting the piece
in again on a board that has the change.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import combinations

from firing.planning.board import PLAIN, Board, FiringKey, Manner, Placed, Work
from firing.planning.facts import Facts
from firing.planning.hours import Hours
from firing.planning.problem import (
    SLOTS_PER_DAY,
    SLOTS_PER_WEEK,
    Problem,
    Skill,
    Window,
)
from firing.planning.problem import joined as joined_windows


class Cause(StrEnum):
    """What time goes into, or is waited for."""

    WORK = "work on this piece"
    OFF_DUTY = "the person is off duty"
    OTHER_WORK = "the person works on other pieces"
    WEEKLY_LIMIT = "the weekly limit is reached"
    IN_THE_KILN = "in the kiln"
    CLOSED = "nobody is in to load or unload"
    KILN_TAKEN = "the kilns are taken"
    SHIPPING = "shipping"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A span [slots] of the chain, its cause, and the facts in words."""

    cause: Cause
    start: int
    end: int
    text: str


class Change(StrEnum):
    """A change of the studio that is tried."""

    ARTIST_FREE = "the artist has no other work"
    NO_WEEKLY_LIMIT = "the artist has no weekly limit"
    KILNS_FREE = "the kilns are empty"
    COLDWORK_FREE = "those who do coldwork have no other work"
    MORE_ACCESS = "the studio is open an hour longer, and on every day"


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """What one or two changes would bring."""

    changes: tuple[Change, ...]
    day: int
    days_gained: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """The chain from the release to the delivery, in order, and days per cause."""

    steps: tuple[Step, ...]
    days_by_cause: dict[Cause, float]
    reliefs: tuple[Relief, ...]


def explain(
    board: Board, number: int, *, with_reliefs: bool = True, manner: Manner = PLAIN
) -> Explanation:
    """Say why a placed piece is delivered on its day.

    Parameters
    ----------
    board : Board
        On which the piece stands; it is left as it was.
    number : int
        Of the piece.
    with_reliefs : bool
        Whether to look for the changes that help most.
    manner : Manner
        How the piece was put in, so that changes are compared with the same.

    References
    ----------
    Walking back along the binding predecessor of each step.
    """
    placed = board.placed[number]
    if placed is None:
        raise ValueError("Only a piece that stands in the plan can be explained.")
    steps = tuple(_Chain(board, number, placed).steps())
    slots: dict[Cause, int] = {}
    for step in steps:
        slots[step.cause] = slots.get(step.cause, 0) + step.end - step.start
    return Explanation(
        steps=steps,
        days_by_cause={
            cause: round(count / SLOTS_PER_DAY, 2)
            for cause, count in sorted(slots.items(), key=lambda row: -row[1])
        },
        reliefs=tuple(reliefs(board, number, manner)) if with_reliefs else (),
    )


class _Chain:
    """Walks back from the delivery; each span ends where the one before began."""

    def __init__(self, board: Board, number: int, placed: Placed) -> None:
        self.board = board
        self.facts = board.facts
        self.number = number
        self.placed = placed
        self.piece = board.facts.pieces[number]
        self.found: list[Step] = []

    def steps(self) -> list[Step]:
        one, placed = self.piece.piece, self.placed
        last = self._last_slot()
        if one.ship_days:
            end = last + one.ship_days * SLOTS_PER_DAY
            self._add(Cause.SHIPPING, last, end, f"{one.ship_days} days under way")
        if placed.coldwork is not None:
            self._work(placed.coldwork, self._ready_for_coldwork(), "coldwork")
        if placed.fuse is not None and one.fuse is not None:
            ready = placed.assembly.end if placed.assembly else self._layers_end()
            fuse = placed.fuse
            run = self.facts.access.run_from(
                ready, one.fuse.load, one.fuse.run, one.fuse.unload
            )
            free = run.start if run is not None else fuse.start
            kiln = self.facts.kilns[fuse.kiln].id
            self._firing(
                kiln, ready, free, fuse.start, fuse.unload, fuse.end, one.fuse.run
            )
        if placed.assembly is not None:
            self._work(placed.assembly, self._layers_end(), "assembly")
        self._layers()
        return sorted(
            (step for step in self.found if step.end > step.start),
            key=lambda step: (step.start, step.end),
        )

    def _last_slot(self) -> int:
        placed = self.placed
        for part in (placed.coldwork, placed.fuse, placed.assembly):
            if part is not None:
                return part.end
        return self._layers_end()

    def _ready_for_coldwork(self) -> int:
        if self.placed.fuse is not None:
            return self.placed.fuse.end
        if self.placed.assembly is not None:
            return self.placed.assembly.end
        return self._layers_end()

    def _layers_end(self) -> int:
        ends = [self._end(key) for key in self.placed.firings]
        return max([self.piece.piece.release, *ends])

    def _end(self, key: FiringKey) -> int:
        return self.facts.night_ends[key.kind][key.night]

    def _layers(self) -> None:
        """Follow the layer that came out last, back to its first painting."""
        if not self.piece.passes:
            return
        first = self.piece.passes[0].number
        last = max(
            self.piece.passes,
            key=lambda p: (self._end(self.placed.firings[p.number - first]), p.number),
        )
        for one in reversed(self.piece.layers[last.layer][: last.position + 1]):
            at = one.number - first
            key, paint = self.placed.firings[at], self.placed.paint[at]
            kind = self.facts.kinds[key.kind]
            run = self.facts.nights[key.kind][key.night]
            soonest = self.facts.access.run_from(
                paint.end, kind.load, kind.run, kind.unload
            )
            free = soonest.start if soonest is not None else run.start
            name = self.facts.kilns[key.kiln].id
            self._firing(
                name, paint.end, free, run.start, run.unload, run.end, kind.run
            )
            ready = max(self.piece.piece.release, one.not_before)
            if one.position:
                ready = self._end(self.placed.firings[at - 1])
            self._work(paint, ready, f"painting of layer {one.layer + 1}")

    def _firing(
        self,
        kiln: str,
        ready: int,
        free: int,
        start: int,
        unload: int,
        end: int,
        run: int,
    ) -> None:
        free = min(free, start)
        self._add(Cause.CLOSED, ready, free, "until the next loading")
        self._add(Cause.KILN_TAKEN, free, start, "until a kiln has room")
        cold = min(start + run + (end - unload), unload)
        self._add(Cause.IN_THE_KILN, start, cold, f"in {kiln}")
        self._add(Cause.CLOSED, cold, unload, f"{kiln} waits for somebody to open it")
        self._add(Cause.IN_THE_KILN, unload, end, f"unloading {kiln}")

    def _work(self, work: Work, ready: int, what: str) -> None:
        """Say of each slot from ready to done what the person did in it."""
        if work.end <= ready:
            return
        person = self.facts.people[work.person]
        own = _slots(self.board.hours[work.person].segments(work.shares))
        owner = self._owners(work.person, ready, work.end)
        present = _slots(person.available, ready, work.end)
        begin, cause, text = ready, None, ""
        for slot in range(ready, work.end):
            now: tuple[Cause, str]
            if slot in own:
                now = (Cause.WORK, f"{what} by {person.id}")
            elif slot in owner:
                other = owner[slot]
                now = (Cause.WORK, f"{person.id} works on this piece")
                if other != self.number:
                    name = self.facts.pieces[other].piece.id
                    now = (Cause.OTHER_WORK, f"{person.id} works on {name}")
            elif slot in present and not self._week_left(work.person, slot):
                now = (Cause.WEEKLY_LIMIT, f"{person.id} has reached the week's limit")
            else:
                now = (Cause.OFF_DUTY, f"{person.id} is off duty")
            if now != (cause, text):
                if cause is not None:
                    self._add(cause, begin, slot, text)
                begin, (cause, text) = slot, now
        if cause is not None:
            self._add(cause, begin, work.end, text)

    def _week_left(self, person: int, slot: int) -> int:
        return self.board.hours[person].left[slot // SLOTS_PER_WEEK]

    def _owners(self, person: int, start: int, end: int) -> dict[int, int]:
        """Return which piece the person works on, slot by slot."""
        owner: dict[int, int] = {}
        hours = self.board.hours[person]
        for number, placed in enumerate(self.board.placed):
            if placed is None:
                continue
            for work in (*placed.paint, placed.assembly, placed.coldwork):
                if work is None or work.person != person:
                    continue
                if work.start < end and work.end > start:
                    for slot in _slots(hours.segments(work.shares), start, end):
                        owner[slot] = number
        return owner

    def _add(self, cause: Cause, start: int, end: int, text: str) -> None:
        if end > start:
            self.found.append(Step(cause=cause, start=start, end=end, text=text))


def _slots(
    windows: Iterable[Window], start: int = 0, end: int | None = None
) -> set[int]:
    return {
        slot
        for a, b in windows
        for slot in range(max(a, start), b if end is None else min(b, end))
    }


def reliefs(board: Board, number: int, manner: Manner = PLAIN) -> list[Relief]:
    """Return the changes that bring days, the best first: one alone, then pairs.

    A pair is listed only when it brings more than each of its two alone.

    Parameters
    ----------
    board : Board
        On which the piece stands; it is left as it was.
    number : int
        Of the piece.
    manner : Manner
        How the piece was put in.

    References
    ----------
    Putting the piece in again with the change; what else stands does not move.
    """
    placed = board.placed[number]
    if placed is None:
        return []
    mark = len(board.journal)
    board.remove(number)
    gains: dict[tuple[Change, ...], int] = {}
    tables: Tables = {}
    base = _day_with(board, number, (), manner, tables)
    if base is not None:
        for count in (1, 2):
            for changes in combinations(Change, count):
                day = _day_with(board, number, changes, manner, tables)
                gains[changes] = 0 if day is None else base - day
    board.rollback(mark)
    found = [
        Relief(changes=changes, day=placed.day - gain, days_gained=gain)
        for changes, gain in gains.items()
        if gain > max([0, *(gains[(one,)] for one in changes if len(changes) > 1)])
    ]
    return sorted(found, key=lambda r: (-r.days_gained, len(r.changes), r.changes))


# By whether there is more access and whether the weekly limit is lifted.
Tables = dict[tuple[bool, bool], Facts]


def _day_with(
    board: Board,
    number: int,
    changes: tuple[Change, ...],
    manner: Manner,
    tables: Tables,
) -> int | None:
    """Return the day of delivery on a board with these changes.

    No firing is joined there, with or without changes, so that all are alike.
    """
    facts = board.facts
    piece = facts.pieces[number]
    key = (Change.MORE_ACCESS in changes, Change.NO_WEEKLY_LIMIT in changes)
    if key not in tables:
        tables[key] = Facts(_alone(facts.problem, number, changes))
    trial = Board(tables[key])
    for kiln in range(len(facts.kilns)):
        if Change.KILNS_FREE in changes:
            continue
        name = facts.kilns[kiln].id
        trial.occupy_also(
            trial.facts.kiln_number[name],
            list(zip(board.taken_from[kiln], board.taken_to[kiln], strict=True)),
        )
    for here, who in enumerate(trial.facts.people):
        person = facts.person_number[who.id]
        is_artist = person == piece.artist
        if is_artist and Change.ARTIST_FREE in changes:
            continue
        if person in facts.cold_workers and Change.COLDWORK_FREE in changes:
            continue
        trial.hours[here] = _same_free(
            board.hours[person],
            trial.hours[here],
            keeps_limit=not (is_artist and Change.NO_WEEKLY_LIMIT in changes),
        )
    if not trial.insert(0, replace(manner, patience=0)):
        return None
    placed = trial.placed[0]
    return None if placed is None else placed.day


def _same_free(taken: Hours, fresh: Hours, *, keeps_limit: bool) -> Hours:
    """Return fresh hours of which the same slots are given out."""
    fresh.free = list(taken.free)
    fresh.is_open = bytearray(1 if mask else 0 for mask in fresh.free)
    if keeps_limit:
        fresh.left = list(taken.left)
        fresh.is_open = bytearray(taken.is_open)
    return fresh


def _alone(problem: Problem, number: int, changes: tuple[Change, ...]) -> Problem:
    """Return the problem of this piece and of those who work on it."""
    piece = problem.pieces[number]
    people = tuple(
        who
        for who in problem.people
        if who.id == piece.artist or Skill.COLDWORK in who.skills
    )
    if Change.NO_WEEKLY_LIMIT in changes:
        people = tuple(
            replace(who, weekly_cap=SLOTS_PER_WEEK) if who.id == piece.artist else who
            for who in people
        )
    access = problem.access
    if Change.MORE_ACCESS in changes:
        access = _more_access(access, problem.horizon)
    return replace(problem, pieces=(piece,), people=people, access=access, remarks=())


def _more_access(windows: tuple[Window, ...], horizon: int) -> tuple[Window, ...]:
    """Return windows an hour longer, and the usual one on days that have none."""
    if not windows:
        return windows
    usual_start, usual_end = (
        windows[0][0] % SLOTS_PER_DAY,
        windows[0][1] % SLOTS_PER_DAY,
    )
    open_days = {start // SLOTS_PER_DAY for start, _ in windows}
    added = [
        (day * SLOTS_PER_DAY + usual_start, day * SLOTS_PER_DAY + usual_end)
        for day in range(horizon // SLOTS_PER_DAY)
        if day not in open_days and usual_start < usual_end
    ]
    longer = [(start, min(end + 2, horizon)) for start, end in windows]
    return joined_windows(tuple(longer + added))
