"""Why a piece is ready on its day: the chain of waits back from the delivery, summed
per cause, and the one or two changes that would help most.

The chain is read off the board. What a change would gain is found by putting the piece
in again on a board with that change.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import combinations

from firing.planning.problem.problem import (
    SLOTS_PER_DAY,
    SLOTS_PER_HOUR,
    SLOTS_PER_WEEK,
    Problem,
    Skill,
    Window,
    cut_out,
)
from firing.planning.problem.problem import joined as joined_windows
from firing.planning.problem.problem_tables import Facts
from firing.planning.search.board import Board
from firing.planning.search.placing import PLAIN, FiringKey, Labour, Manner, Placed


class Cause(StrEnum):
    """What time is spent on or waited for."""

    WORK = "work"
    OFF_DUTY = "off duty"
    OTHER_WORK = "other work"
    WEEKLY_LIMIT = "weekly limit"
    IN_THE_KILN = "in the kiln"
    CLOSED = "closed"
    KILN_TAKEN = "kiln taken"
    SHIPPING = "shipping"


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """Why time passes: the cause, with its ids and its work.

    Attributes
    ----------
    person : str
        Who works, or does not.
    kiln : str
        In which the piece is, or which waits to be opened.
    piece : str
        Which other piece the person works on.
    task : Skill or None
        Which work it is, where it is a step of this piece's chain.
    layer : int or None
        Counted from 0, of a painting.
    """

    cause: Cause
    person: str = ""
    kiln: str = ""
    piece: str = ""
    task: Skill | None = None
    layer: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A span [slots] of the chain, and why it passes."""

    why: Why
    start: int
    end: int

    @property
    def cause(self) -> Cause:
        """What it is spent on or waited for."""
        return self.why.cause


class Change(StrEnum):
    """A change to the studio that is tried."""

    ARTIST_FREE = "artist free"
    NO_WEEKLY_LIMIT = "no weekly limit"
    KILNS_FREE = "kilns free"
    COLDWORK_FREE = "coldwork free"
    HOUR_LONGER = "hour longer"
    EVERY_DAY = "every day"
    KILNS_OPEN = "kilns open"
    NOBODY_AWAY = "nobody away"


@dataclass(frozen=True, slots=True, kw_only=True)
class Relief:
    """What one or two changes would gain."""

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
            self._add(Why(cause=Cause.SHIPPING), last, end)
        if placed.coldwork is not None:
            self._work(placed.coldwork, self._ready_for_coldwork(), Skill.COLDWORK)
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
            self._work(placed.assembly, self._layers_end(), Skill.ASSEMBLE)
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
            self._work(paint, ready, Skill.PAINT, one.layer)

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
        self._add(Why(cause=Cause.CLOSED), ready, free)
        self._add(Why(cause=Cause.KILN_TAKEN), free, start)
        cold = min(start + run + (end - unload), unload)
        inside = Why(cause=Cause.IN_THE_KILN, kiln=kiln)
        self._add(inside, start, cold)
        self._add(Why(cause=Cause.CLOSED, kiln=kiln), cold, unload)
        self._add(inside, unload, end)

    def _work(
        self, work: Labour, ready: int, task: Skill, layer: int | None = None
    ) -> None:
        """Say of each slot from ready to done what the person did in it."""
        if work.end <= ready:
            return
        person = self.facts.people[work.person]
        own = _slots(self.board.hours[work.person].segments(work.shares))
        owner = self._owners(work.person, ready, work.end)
        present = _slots(person.available, ready, work.end)
        begin, why = ready, None
        for slot in range(ready, work.end):
            if slot in own:
                now = Why(cause=Cause.WORK, person=person.id, task=task, layer=layer)
            elif slot in owner and owner[slot] == self.number:
                now = Why(cause=Cause.WORK, person=person.id)
            elif slot in owner:
                other = self.facts.pieces[owner[slot]].piece.id
                now = Why(cause=Cause.OTHER_WORK, person=person.id, piece=other)
            elif slot in present and not self._week_left(work.person, slot):
                now = Why(cause=Cause.WEEKLY_LIMIT, person=person.id)
            else:
                now = Why(cause=Cause.OFF_DUTY, person=person.id)
            if now != why:
                if why is not None:
                    self._add(why, begin, slot)
                begin, why = slot, now
        if why is not None:
            self._add(why, begin, work.end)

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

    def _add(self, why: Why, start: int, end: int) -> None:
        if end > start:
            self.found.append(Step(why=why, start=start, end=end))


def _slots(
    windows: Iterable[Window], start: int = 0, end: int | None = None
) -> set[int]:
    return {
        slot
        for a, b in windows
        for slot in range(max(a, start), b if end is None else min(b, end))
    }


def reliefs(board: Board, number: int, manner: Manner = PLAIN) -> list[Relief]:
    """Return the changes that gain days, the best first: one alone, else pairs.

    Pairs are tried where no single change helps: the next limit is often only a step
    behind.

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
    found: list[Relief] = []
    trial = _Trial(board, number, manner)
    base = trial.day_with(())
    if base is not None:
        # If a piece is earlier merely without joining a firing, no change gets the
        # credit.
        to_beat = min(base, placed.day)
        able = trial.possible()
        for count in (1, 2):
            for changes in combinations(able, count):
                day = trial.day_with(changes)
                if day is not None and day < to_beat:
                    gained = placed.day - day
                    found.append(Relief(changes=changes, day=day, days_gained=gained))
            if found:
                break
    board.rollback(mark)
    return sorted(found, key=_in_order)


# Of changes that gain the same, the one to name first.
RANK = {
    change: at
    for at, change in enumerate(
        (
            Change.KILNS_OPEN,
            Change.NOBODY_AWAY,
            Change.ARTIST_FREE,
            Change.NO_WEEKLY_LIMIT,
            Change.KILNS_FREE,
            Change.HOUR_LONGER,
            Change.EVERY_DAY,
            Change.COLDWORK_FREE,
        )
    )
}


def _in_order(relief: Relief) -> tuple[int, int, list[int]]:
    ranks = [RANK[change] for change in relief.changes]
    return (-relief.days_gained, len(relief.changes), ranks)


# Changes that alter tables or kilns; the rest only free people's hours.
OF_THE_BOARD = frozenset(
    {
        Change.KILNS_FREE,
        Change.NO_WEEKLY_LIMIT,
        Change.HOUR_LONGER,
        Change.EVERY_DAY,
        Change.KILNS_OPEN,
        Change.NOBODY_AWAY,
    }
)


class _Trial:
    """Puts one piece in on a copy of a board with some changes.

    No firing is joined there, with or without changes, so that all can be compared.
    """

    def __init__(self, board: Board, number: int, manner: Manner) -> None:
        self.board, self.number = board, number
        self.manner = replace(manner, patience=0)
        self.facts = board.facts
        self.known: dict[frozenset[Change], Board] = {}

    def possible(self) -> list[Change]:
        """Return the changes that change anything here."""
        problem, facts = self.facts.problem, self.facts
        piece = facts.pieces[self.number]
        artist = facts.people[piece.artist]
        days = {start // SLOTS_PER_DAY for start, _ in problem.access}
        is_shut = {
            Change.NO_WEEKLY_LIMIT: artist.weekly_cap >= SLOTS_PER_WEEK,
            Change.COLDWORK_FREE: not piece.piece.coldwork,
            Change.EVERY_DAY: bool(days) and len(days) > max(days) - min(days),
            Change.KILNS_OPEN: not any(kiln.maintenance for kiln in problem.kilns),
            Change.NOBODY_AWAY: not any(who.away for who in problem.people),
        }
        return [change for change in Change if not is_shut.get(change)]

    def day_with(self, changes: tuple[Change, ...]) -> int | None:
        """Return the day of delivery with these changes."""
        trial = self._board(OF_THE_BOARD & set(changes))
        for person in range(len(trial.facts.people)):
            self._fill_hours(trial, person, changes)
        mark = len(trial.journal)
        if not trial.insert(0, self.manner):
            return None
        placed = trial.placed[0]
        trial.rollback(mark)
        return None if placed is None else placed.day

    def _board(self, changes: frozenset[Change]) -> Board:
        """Return a board with these changes and full kilns; hours are still empty."""
        if changes not in self.known:
            alone = _alone(self.facts, self.number, changes)
            access = self.facts.access
            is_same = alone.access == access.windows
            trial = Board(Facts(alone, access if is_same else None))
            self._fill_kilns(trial, changes)
            self.known[changes] = trial
        return self.known[changes]

    def _fill_kilns(self, trial: Board, changes: frozenset[Change]) -> None:
        if Change.KILNS_FREE in changes:
            return
        board = self.board
        for number, row in enumerate(trial.facts.kilns):
            kiln = self.facts.kiln_number[row.id]
            taken = tuple(
                zip(board.taken_from[kiln], board.taken_to[kiln], strict=True)
            )
            if Change.KILNS_OPEN in changes:
                taken = cut_out(taken, self.facts.kilns[kiln].maintenance)
            trial.occupy_also(number, list(taken))

    def _fill_hours(
        self, trial: Board, person: int, changes: tuple[Change, ...]
    ) -> None:
        trial.hours[person] = fresh = trial.facts.empty_hours[person].copy()
        is_artist = person == trial.facts.pieces[0].artist
        if is_artist and Change.ARTIST_FREE in changes:
            return
        if person in trial.facts.cold_workers and Change.COLDWORK_FREE in changes:
            return
        there = self.facts.person_number[trial.facts.people[person].id]
        taken = self.board.hours[there]
        if Change.NOBODY_AWAY in changes:
            given = taken.given(self.facts.empty_hours[there])
            fresh.give_booked(given, self.facts.problem.horizon)
        else:
            has_limit = not (is_artist and Change.NO_WEEKLY_LIMIT in changes)
            fresh.give_same(taken, keeps_limit=has_limit)


def _alone(facts: Facts, number: int, changes: frozenset[Change]) -> Problem:
    """Return the problem of one piece with changes: what it can use, and no more."""
    problem, own = facts.problem, facts.pieces[number]
    piece, access = own.piece, problem.access
    people = tuple(
        who
        for n, who in enumerate(facts.people)
        if n == own.artist or n in facts.cold_workers
    )
    useful = sum(1 << n for n in own.fuse_kilns)
    for kilns_of_kind in own.kilns_for:
        useful |= kilns_of_kind
    kilns = tuple(kiln for n, kiln in enumerate(facts.kilns) if useful >> n & 1)
    if Change.NO_WEEKLY_LIMIT in changes:
        people = tuple(
            replace(who, weekly_cap=SLOTS_PER_WEEK) if who.id == piece.artist else who
            for who in people
        )
    if Change.NOBODY_AWAY in changes:
        people = tuple(
            replace(who, available=joined_windows((*who.available, *who.away)))
            for who in people
        )
    if Change.EVERY_DAY in changes:
        access = _every_day(access, problem.horizon)
    if Change.HOUR_LONGER in changes:
        access = joined_windows(
            tuple(
                (start, min(end + SLOTS_PER_HOUR, problem.horizon))
                for start, end in access
            )
        )
    if Change.KILNS_OPEN in changes:
        kilns = tuple(replace(kiln, maintenance=()) for kiln in kilns)
    return replace(
        problem,
        pieces=(piece,),
        people=people,
        access=access,
        kilns=kilns,
        remarks=(),
    )


def _every_day(windows: tuple[Window, ...], horizon: int) -> tuple[Window, ...]:
    """Return windows with the usual one on days that have none."""
    if not windows:
        return windows
    usual = Counter(
        (start % SLOTS_PER_DAY, (end - 1) % SLOTS_PER_DAY + 1) for start, end in windows
    )
    (usual_start, usual_end), _ = max(
        usual.items(), key=lambda row: (row[1], (-row[0][0], row[0][1]))
    )
    open_days = {start // SLOTS_PER_DAY for start, _ in windows}
    added = [
        (day * SLOTS_PER_DAY + usual_start, day * SLOTS_PER_DAY + usual_end)
        for day in range(min(open_days), horizon // SLOTS_PER_DAY)
        if day not in open_days and usual_start < usual_end
    ]
    return joined_windows((*windows, *added))
