"""The plan in progress: who works when, what is in which kiln, and what it costs.

Every change goes into a journal, so that a try can be undone exactly. It keeps the
rules by construction; `check` knows them independently and is asked at the end.
"""

from bisect import bisect_left, bisect_right, insort
from collections.abc import Callable, Sequence

from firing.planning.packing.packing import Spot
from firing.planning.problem.access import Run
from firing.planning.problem.loads import EMPTY, FULL
from firing.planning.problem.problem import days_late, delivery_day
from firing.planning.problem.problem_tables import Facts, PassFacts, PieceFacts
from firing.planning.search.placing import (
    PLAIN,
    FiringKey,
    FuseSlot,
    Kept,
    Labour,
    Manner,
    Placed,
    PlacedFiring,
    Score,
    painting_order,
)

NO_ROOM = -1
# A shelf that is asked for the first time costs as much as this many other steps.
UNITS_PER_PACKING = 25


class Board:
    """The state of one plan, with a journal of its changes."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.hours = [fresh.copy() for fresh in facts.empty_hours]
        self.taken_from: list[list[int]] = [[w[0] for w in c] for c in facts.closed]
        self.taken_to: list[list[int]] = [[w[1] for w in c] for c in facts.closed]
        every = (1 << len(facts.kilns)) - 1
        self.free = [[every] * len(runs) for runs in facts.nights]
        self.at_night: list[list[list[PlacedFiring]]] = [
            [[] for _ in runs] for runs in facts.nights
        ]
        self.firings: dict[FiringKey, PlacedFiring] = {}
        self.placed: list[Placed | None] = [None] * len(facts.pieces)
        self.undelivered = len(facts.pieces)
        self.late = 0
        self.mwh = 0
        self.days = 0
        self.work_units = 0
        self.journal: list[tuple[Callable[..., object], tuple[object, ...]]] = []
        for kiln, windows in enumerate(facts.closed):
            for start, end in windows:
                self._mark_taken(kiln, start, end)

    @property
    def score(self) -> Score:
        """What the plan costs, in the order of the aims; moves are counted elsewhere."""
        return Score(self.undelivered, self.late, 0, self.mwh, self.days)

    def rollback(self, mark: int) -> None:
        """Undo every change after the journal had this length."""
        journal = self.journal
        while len(journal) > mark:
            undo, arguments = journal.pop()
            undo(*arguments)

    # --- putting a piece in ------------------------------------------------

    def insert(
        self, number: int, manner: Manner = PLAIN, kept: Kept | None = None
    ) -> bool:
        """Put a piece in as early as possible; False, and nothing changed, if
        impossible.

        What is to be kept stays where it was as far as the rules allow.
        """
        mark = len(self.journal)
        placed = self._insert(self.facts.pieces[number], manner, kept)
        if placed is None:
            self.rollback(mark)
            return False
        self._set_placed(number, placed)
        return True

    def _insert(
        self, piece: PieceFacts, manner: Manner, kept: Kept | None
    ) -> Placed | None:
        start = max(piece.piece.release, manner.not_before)
        first = piece.passes[0].number if piece.passes else 0
        paint: dict[int, Labour] = {}
        firings: dict[int, FiringKey] = {}
        ready_layer = [start] * len(piece.layers)
        for one in painting_order(piece, manner):
            ready = max(ready_layer[one.layer], one.not_before)
            found = self._paint_and_fire(piece, one, ready, manner, kept)
            if found is None:
                return None
            paint[one.number], firings[one.number] = found
            key = found[1]
            ready_layer[one.layer] = self.facts.night_ends[key.kind][key.night]
        ready = max([start, manner.assembled_from, *ready_layer])
        assembly = None
        if piece.piece.assembly:
            assembly = self._kept_work(kept and kept.assembly, ready, kept)
            if assembly is None:
                if kept is not None and kept.is_strict:
                    return None
                assembly = self._work(piece.artist, ready, piece.piece.assembly)
            if assembly is None:
                return None
            ready = assembly.end
        finish = self._kept_finish(piece, ready, kept) if kept else None
        if finish is None:
            if kept is not None and kept.is_strict:
                return None
            finish = self._finish(piece, ready)
        if finish is None:
            return None
        numbers = range(first, first + len(piece.passes))
        return Placed(
            tuple(paint[n] for n in numbers),
            tuple(firings[n] for n in numbers),
            assembly,
            *finish,
        )

    def _paint_and_fire(
        self,
        piece: PieceFacts,
        one: PassFacts,
        ready: int,
        manner: Manner,
        kept: Kept | None,
    ) -> tuple[Labour, FiringKey] | None:
        work, key = None, None
        if kept is not None:
            work = self._kept_work(kept.paint.get(one.number), ready, kept)
            if work is not None and work.shares and one.labour != _length(work):
                self._stop_work(work)
                work = None
            if work is None and not kept.is_strict:
                work = self._work(piece.artist, ready, one.labour)
            if work is not None:
                key = self._kept_firing(piece, one, work.end, kept)
            if kept.is_strict and key is None:
                return None
        if work is None:
            work = self._work(piece.artist, ready, one.labour)
        if work is not None and key is None:
            key = self._fire(piece, one, work.end, manner)
        return None if work is None or key is None else (work, key)

    def _kept_work(
        self, work: Labour | None, ready: int, kept: Kept | None
    ) -> Labour | None:
        """Assign the same hours again, if they are free and not too early."""
        if kept is None or work is None or work.start < ready:
            return None
        if not self.hours[work.person].can_take(work.shares):
            return None
        self.hours[work.person].take_again(work.shares)
        self.journal.append((self.hours[work.person].put_back, (work.shares,)))
        return work

    def _kept_firing(
        self, piece: PieceFacts, one: PassFacts, ready: int, kept: Kept
    ) -> FiringKey | None:
        """Put the layer in the firing it was in, opening that one if need be."""
        key = kept.firings.get(one.number)
        if key is None or key.kind != one.kind:
            return None
        if not piece.kilns_for[key.kind] >> key.kiln & 1:
            return None
        if self.facts.nights[key.kind][key.night].start < ready:
            return None
        firing = self.firings.get(key)
        shelf = self.facts.shelves[key.kiln][key.kind]
        if firing is None:
            if not self.free[key.kind][key.night] >> key.kiln & 1:
                return None
            firing = self._open(key)
        spots = kept.spots.get(key, {})
        items = [*firing.items, one.number]
        if all(item in spots for item in items):
            by_size = sorted(items, key=self._size_of)
            content = tuple(self._size_of(item) for item in by_size)
            state = shelf.with_spots(content, tuple(spots[i] for i in by_size))
        else:
            state = shelf.add(firing.state, piece.size)
        if state == FULL:
            return None
        self._put_in(one.number, firing, state)
        return key

    def _kept_finish(
        self, piece: PieceFacts, ready: int, kept: Kept
    ) -> tuple[FuseSlot | None, Labour | None, int, int] | None:
        """Keep fuse and coldwork, or the fuse alone, where they were."""
        mark = len(self.journal)
        fuse = None
        if piece.piece.fuse is not None:
            fuse = kept.fuse
            if fuse is None or fuse.start < ready or fuse.kiln not in piece.fuse_kilns:
                return None
            if not self.is_free(fuse.kiln, fuse.start, fuse.end):
                return None
            self._begin_fuse(piece, fuse)
            ready = fuse.end
        work = self._kept_work(kept.coldwork, ready, kept)
        if work is None and piece.piece.coldwork:
            if kept.is_strict:
                self.rollback(mark)
                return None
            return self._coldwork_and_ship(piece, fuse, ready)
        end = work.end if work is not None else ready
        day = delivery_day(end, piece.piece.ship_days)
        return fuse, work, day, piece.piece.weight * days_late(piece.piece, day)

    def is_free(self, kiln: int, start: int, end: int) -> bool:
        """Return whether nothing is in the kiln in this span."""
        starts, ends = self.taken_from[kiln], self.taken_to[kiln]
        at = bisect_right(starts, start)
        return not (at and ends[at - 1] > start) and not (
            at < len(starts) and starts[at] < end
        )

    def occupy_also(self, kiln: int, spans: list[tuple[int, int]]) -> None:
        """Mark spans of a kiln as taken, even if some already are.

        For boards that answer what-if questions: there is no undo.
        """
        known = set(zip(self.taken_from[kiln], self.taken_to[kiln], strict=True))
        for start, end in spans:
            if (start, end) not in known:
                self._occupy(kiln, start, end)

    def _size_of(self, item: int) -> int:
        return self.facts.pieces[self.facts.passes[item].piece].size

    def remove(self, number: int) -> None:
        """Take a piece out of the plan."""
        placed = self.placed[number]
        if placed is None:
            return
        piece = self.facts.pieces[number]
        for one, work, key in zip(
            piece.passes, placed.paint, placed.firings, strict=True
        ):
            self._stop_work(work)
            self._take_out(one.number, self.firings[key])
        if placed.assembly:
            self._stop_work(placed.assembly)
        if placed.fuse:
            self._end_fuse(piece, placed.fuse)
        if placed.coldwork:
            self._stop_work(placed.coldwork)
        self._set_placed(number, None)

    def relocate(self, pass_number: int, key: FiringKey) -> bool:
        """Move one pass into another standing firing; False if it does not fit."""
        one = self.facts.passes[pass_number]
        placed = self.placed[one.piece]
        target = self.firings.get(key)
        if placed is None or target is None:
            return False
        piece = self.facts.pieces[one.piece]
        state = self._state_with(target, piece, one.kind)
        if state == FULL:
            return False
        at = pass_number - piece.passes[0].number
        self._take_out(pass_number, self.firings[placed.firings[at]])
        self._put_in(pass_number, target, state)
        firings = (*placed.firings[:at], key, *placed.firings[at + 1 :])
        self._set_placed(one.piece, placed._replace(firings=firings))
        return True

    def open_for(
        self, items: Sequence[int], firing: PlacedFiring, key: FiringKey
    ) -> None:
        """Move passes from one firing into a new one; they fit there in this order."""
        for item in items:
            self._take_out(item, firing)
        self.open_with(key, items)

    def lift(self, item: int, firing: PlacedFiring) -> None:
        """Take a pass out of its firing; `lay` or `open_with` must follow."""
        self._take_out(item, firing)

    def open_with(self, key: FiringKey, items: Sequence[int]) -> None:
        """Open a firing for passes that were taken out; they fit in this order."""
        facts = self.facts
        shelf = facts.shelves[key.kiln][key.kind]
        target = self._open(key)
        state = EMPTY
        for item in items:
            size = facts.pieces[facts.passes[item].piece].size
            state = shelf.add(state, size)
            self._put_in(item, target, state)
            self._note_firing(item, key)

    def lay(self, item: int, firing: PlacedFiring) -> bool:
        """Place a pass that was taken out in a firing; False if it does not fit."""
        one = self.facts.passes[item]
        state = self._state_with(firing, self.facts.pieces[one.piece], one.kind)
        if state == FULL:
            return False
        self._put_in(item, firing, state)
        self._note_firing(item, firing.key)
        return True

    def _note_firing(self, item: int, key: FiringKey) -> None:
        number = self.facts.passes[item].piece
        placed = self.placed[number]
        if placed is None:
            raise AssertionError("An item of a firing belongs to a placed piece.")
        at = item - self.facts.pieces[number].passes[0].number
        firings = (*placed.firings[:at], key, *placed.firings[at + 1 :])
        self._set_placed(number, placed._replace(firings=firings))

    def room_for(self, pass_number: int) -> tuple[int, int]:
        """Return from when a pass may be loaded, and until when it must be unloaded.

        Only the firing moves within these: the painting before and after it stays.
        """
        one = self.facts.passes[pass_number]
        piece = self.facts.pieces[one.piece]
        placed = self.placed[one.piece]
        if placed is None:
            raise AssertionError("Only what is in the plan has room to move.")
        first = piece.passes[0].number
        earliest = placed.paint[pass_number - first].end
        if one.position + 1 < len(piece.layers[one.layer]):
            return earliest, placed.paint[pass_number - first + 1].start
        if placed.assembly:
            return earliest, placed.assembly.start
        if placed.fuse:
            return earliest, placed.fuse.start
        if placed.coldwork:
            return earliest, placed.coldwork.start
        key = placed.firings[pass_number - first]
        return earliest, self.facts.night_ends[key.kind][key.night]

    # --- rebuilding ----------------------------------------------------------

    def load(
        self,
        placements: Sequence[Placed | None],
        spots: dict[FiringKey, dict[int, Spot]] | None = None,
    ) -> None:
        """Fill an empty board with placements that were valid together.

        `spots` tells how layers lie in firings that this planner did not pack itself.
        """
        facts = self.facts
        for number, placed in enumerate(placements):
            if placed is None:
                continue
            piece = facts.pieces[number]
            for one, key in zip(piece.passes, placed.firings, strict=True):
                firing = self.firings.get(key) or self._open(key)
                firing.items.append(one.number)
            works = (*placed.paint, placed.assembly, placed.coldwork)
            for work in works:
                if work is not None:
                    self.hours[work.person].take_again(work.shares)
            if placed.fuse:
                self._begin_fuse(piece, placed.fuse)
            self._set_placed(number, placed)
        for firing in self.firings.values():
            self._settle(firing, (spots or {}).get(firing.key))
        self.journal.clear()

    def _settle(self, firing: PlacedFiring, spots: dict[int, Spot] | None) -> None:
        """Find the state of a load that was filled without asking the shelf."""
        key = firing.key
        shelf = self.facts.shelves[key.kiln][key.kind]
        firing.items.sort()
        by_size = sorted(firing.items, key=self._size_of)
        content = tuple(self._size_of(item) for item in by_size)
        if spots is not None:
            firing.state = shelf.with_spots(content, tuple(spots[i] for i in by_size))
            return
        known = shelf.number.get(content, FULL)
        if known == FULL:
            known = EMPTY
            for size in content:
                known = shelf.add(known, size)
        if known == FULL:
            raise AssertionError("A load that stood before no longer fits its shelf.")
        firing.state = known

    # --- steps of an insertion -------------------------------------------------

    def _work(self, person: int, ready: int, length: int) -> Labour | None:
        self.work_units += 1
        found = self.hours[person].take(ready, length)
        if found is None:
            return None
        end, shares = found
        if not shares:
            return Labour(person, shares, ready, end)
        self.journal.append((self.hours[person].put_back, (shares,)))
        window, bits = shares[0]
        start = self.hours[person].starts[window] + (bits & -bits).bit_length() - 1
        return Labour(person, shares, start, end)

    def _stop_work(self, work: Labour) -> None:
        self.hours[work.person].put_back(work.shares)
        self.journal.append((self.hours[work.person].take_again, (work.shares,)))

    def _fire(
        self, piece: PieceFacts, one: PassFacts, ready: int, manner: Manner
    ) -> FiringKey | None:
        """Join the next firing with room, or open one."""
        kind, size = one.kind, piece.size
        fitting = piece.kilns_for[kind]
        free, at_night = self.free[kind], self.at_night[kind]
        shelves = self.facts.shelves
        night = bisect_left(self.facts.night_starts[kind], ready)
        limit = len(free)
        opened = NO_ROOM
        while night < limit:
            self.work_units += 1
            for firing in at_night[night]:
                kiln = firing.key.kiln
                if not fitting >> kiln & 1:
                    continue
                shelf = shelves[kiln][kind]
                state = shelf.more[firing.state].get(size)
                if state is None:
                    state = shelf.add(firing.state, size)
                    self.work_units += UNITS_PER_PACKING
                if state != FULL:
                    self._put_in(one.number, firing, state)
                    return firing.key
            if opened == NO_ROOM and free[night] & fitting:
                opened = night
                limit = min(limit, night + 1 + manner.patience)
            night += 1
        if opened == NO_ROOM:
            return None
        mask = free[opened] & fitting
        kiln = (mask if manner.is_roomy else mask & -mask).bit_length() - 1
        firing = self._open(FiringKey(kiln, kind, opened))
        self._put_in(one.number, firing, shelves[kiln][kind].add(EMPTY, size))
        return firing.key

    def _finish(
        self, piece: PieceFacts, ready: int
    ) -> tuple[FuseSlot | None, Labour | None, int, int] | None:
        """Fuse in the kiln that delivers least late, then cheapest; then coldwork."""
        if piece.piece.fuse is None:
            return self._coldwork_and_ship(piece, None, ready)
        best = None
        for slot in self._fuse_slots(piece, ready):
            # Soonest first: a later one costs no less lateness, so it has to be
            # cheaper.
            if best is not None and best[1] <= piece.fuse_mwh[slot.kiln]:
                continue
            day = self.day_after(piece, slot.end)
            if day is None:
                break
            cost = piece.piece.weight * days_late(piece.piece, day)
            if best is not None and cost > best[2]:
                break
            best = (slot, piece.fuse_mwh[slot.kiln], cost)
        if best is None:
            return None
        self._begin_fuse(piece, best[0])
        return self._coldwork_and_ship(piece, best[0], best[0].end)

    def _coldwork_and_ship(
        self, piece: PieceFacts, fuse: FuseSlot | None, ready: int
    ) -> tuple[FuseSlot | None, Labour | None, int, int] | None:
        end, work = ready, None
        if piece.piece.coldwork:
            best = None
            for person in self.facts.cold_workers:
                found = self.hours[person].take(ready, piece.piece.coldwork)
                if found is None:
                    continue
                self.hours[person].put_back(found[1])
                if best is None or found[0] < best[0]:
                    best = (found[0], person)
            if best is None:
                return None
            work = self._work(best[1], ready, piece.piece.coldwork)
            end = best[0]
        day = delivery_day(end, piece.piece.ship_days)
        return fuse, work, day, piece.piece.weight * days_late(piece.piece, day)

    def day_after(self, piece: PieceFacts, ready: int) -> int | None:
        """Return the day of delivery if coldwork may begin at `ready`."""
        end = ready
        if piece.piece.coldwork:
            ends = []
            for person in self.facts.cold_workers:
                found = self.hours[person].take(ready, piece.piece.coldwork)
                if found is not None:
                    self.hours[person].put_back(found[1])
                    ends.append(found[0])
            if not ends:
                return None
            end = min(ends)
        return delivery_day(end, piece.piece.ship_days)

    def _fuse_slots(self, piece: PieceFacts, ready: int) -> list[FuseSlot]:
        """Return the earliest fuse in each kiln that takes it, soonest first."""
        fuse = piece.piece.fuse
        if fuse is None:
            return []
        found = []
        for kiln in piece.fuse_kilns:
            run = self.earliest_run(kiln, ready, fuse.load, fuse.run, fuse.unload)
            if run is not None:
                found.append(FuseSlot(kiln, run.start, run.unload, run.end))
        return sorted(found, key=lambda slot: (slot.end, slot.kiln))

    def earliest_run(
        self, kiln: int, ready: int, load: int, run: int, unload: int
    ) -> Run | None:
        """Return the firing in this kiln that is unloaded first, from `ready` on."""
        starts, ends = self.taken_from[kiln], self.taken_to[kiln]
        access = self.facts.access
        while True:
            self.work_units += 1
            one = access.run_from(ready, load, run, unload)
            if one is None:
                return None
            at = bisect_right(starts, one.start)
            if at and ends[at - 1] > one.start:
                ready = ends[at - 1]
            elif at < len(starts) and starts[at] < one.end:
                ready = ends[at]
            else:
                return one

    # --- changes, each with its way back ----------------------------------------

    def _state_with(self, firing: PlacedFiring, piece: PieceFacts, kind: int) -> int:
        if not piece.kilns_for[kind] >> firing.key.kiln & 1:
            return FULL
        return self.facts.shelves[firing.key.kiln][kind].add(firing.state, piece.size)

    def _put_in(self, item: int, firing: PlacedFiring, state: int) -> None:
        self.journal.append((self._undo_put_in, (item, firing, firing.state)))
        firing.items.append(item)
        firing.state = state

    def _undo_put_in(self, item: int, firing: PlacedFiring, state: int) -> None:
        firing.items.remove(item)
        firing.state = state

    def _take_out(self, item: int, firing: PlacedFiring) -> None:
        facts, key = self.facts, firing.key
        size = facts.pieces[facts.passes[item].piece].size
        self.journal.append((self._undo_take_out, (item, firing, firing.state)))
        firing.items.remove(item)
        firing.state = facts.shelves[key.kiln][key.kind].take(firing.state, size)
        if not firing.items:
            self._close(firing)
            self.journal.append((self._reopen, (firing,)))

    def _undo_take_out(self, item: int, firing: PlacedFiring, state: int) -> None:
        firing.items.append(item)
        firing.state = state

    def _open(self, key: FiringKey) -> PlacedFiring:
        firing = PlacedFiring(key)
        self._reopen(firing)
        self.journal.append((self._close, (firing,)))
        return firing

    def _reopen(self, firing: PlacedFiring) -> None:
        kiln, kind, night = key = firing.key
        run = self.facts.nights[kind][night]
        self._occupy(kiln, run.start, run.end)
        self.firings[key] = firing
        self.at_night[kind][night].append(firing)
        self.mwh += self.facts.firing_mwh[kiln]

    def _close(self, firing: PlacedFiring) -> None:
        kiln, kind, night = key = firing.key
        run = self.facts.nights[kind][night]
        self._vacate(kiln, run.start, run.end)
        del self.firings[key]
        self.at_night[kind][night].remove(firing)
        self.mwh -= self.facts.firing_mwh[kiln]

    def _begin_fuse(self, piece: PieceFacts, slot: FuseSlot) -> None:
        self._occupy_fuse(piece, slot)
        self.journal.append((self._vacate_fuse, (piece, slot)))

    def _end_fuse(self, piece: PieceFacts, slot: FuseSlot) -> None:
        self._vacate_fuse(piece, slot)
        self.journal.append((self._occupy_fuse, (piece, slot)))

    def _occupy_fuse(self, piece: PieceFacts, slot: FuseSlot) -> None:
        self._occupy(slot.kiln, slot.start, slot.end)
        self.mwh += piece.fuse_mwh[slot.kiln]

    def _vacate_fuse(self, piece: PieceFacts, slot: FuseSlot) -> None:
        self._vacate(slot.kiln, slot.start, slot.end)
        self.mwh -= piece.fuse_mwh[slot.kiln]

    def _set_placed(self, number: int, placed: Placed | None) -> None:
        self.journal.append((self._swap_placed, (number, self.placed[number])))
        self._swap_placed(number, placed)

    def _swap_placed(self, number: int, placed: Placed | None) -> None:
        old = self.placed[number]
        if old is not None:
            self.undelivered += 1
            self.late -= old.cost
            self.days -= old.day
        if placed is not None:
            self.undelivered -= 1
            self.late += placed.cost
            self.days += placed.day
        self.placed[number] = placed

    def _occupy(self, kiln: int, start: int, end: int) -> None:
        insort(self.taken_from[kiln], start)
        insort(self.taken_to[kiln], end)
        self._mark_taken(kiln, start, end)

    def _mark_taken(self, kiln: int, start: int, end: int) -> None:
        mask = ~(1 << kiln)
        for kind, free in enumerate(self.free):
            for night in self._nights_between(kind, start, end):
                free[night] &= mask

    def _vacate(self, kiln: int, start: int, end: int) -> None:
        starts, ends = self.taken_from[kiln], self.taken_to[kiln]
        at = bisect_left(starts, start)
        del starts[at]
        del ends[at]
        before = ends[at - 1] if at else -1
        after = starts[at] if at < len(starts) else self.facts.problem.horizon + 1
        bit = 1 << kiln
        for kind, free in enumerate(self.free):
            runs = self.facts.nights[kind]
            for night in self._nights_between(kind, start, end):
                if runs[night].start >= before and runs[night].end <= after:
                    free[night] |= bit

    def _nights_between(self, kind: int, start: int, end: int) -> range:
        """Return the nights of a kind that share a slot with the span."""
        return range(
            bisect_right(self.facts.night_ends[kind], start),
            bisect_left(self.facts.night_starts[kind], end),
        )


def _length(work: Labour) -> int:
    return sum(bits.bit_count() for _, bits in work.shares)
