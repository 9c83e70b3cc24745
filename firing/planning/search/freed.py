"""CP-SAT on a few pieces freed in a plan whose rest stands.

Building and solving are apart. The model restricts itself (one fuse start per day of
loading and of unloading), so that its answers are improvements, never proofs.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from firing.planning.problem.access import first_night
from firing.planning.problem.hours import Share
from firing.planning.problem.problem import SLOTS_PER_DAY, days_late
from firing.planning.problem.problem_tables import PassFacts, PieceFacts
from firing.planning.proofs.model import (
    SolverLimits,
    in_one_of,
    new_model,
    no_fuller_than,
    one_thing_at_a_time,
    solve,
)
from firing.planning.search.board import Board
from firing.planning.search.placing import (
    PLAIN,
    FiringKey,
    FuseSlot,
    Kept,
    Placed,
    Work,
)

# A day late outweighs every saving of energy: kWh of a plan stay below this.
DAY_WEIGHT = 10_000_000
# The model may deliver freed pieces this much later than they stand now.
SPARE_DAYS = 7
ROUNDS = 4


@dataclass(slots=True)
class KilnModel:
    """A model and the meaning of its variables."""

    model: Any
    in_firing: dict[tuple[int, FiringKey], Any] = field(default_factory=dict)
    opened: dict[FiringKey, Any] = field(default_factory=dict)
    paint: dict[tuple[int, int], Any] = field(default_factory=dict)
    assembly: dict[tuple[int, int], Any] = field(default_factory=dict)
    fuse: dict[tuple[int, FuseSlot], Any] = field(default_factory=dict)
    # Per artist: stretches (window, first slot, end) of free hours, numbered.
    stretches: dict[int, list[tuple[int, int, int]]] = field(default_factory=dict)


def build_model(board: Board, numbers: Sequence[int]) -> KilnModel:
    """Build the model of pieces that are not on the board, round those that are.

    Parameters
    ----------
    board : Board
        The rest of the plan, which stands.
    numbers : sequence of int
        Pieces that were taken out; what they cost is minimised.

    References
    ----------
    Time-indexed over the nights that no other dominates, by the rules above.
    """
    built = KilnModel(model=new_model())
    until = board.facts.problem.horizon
    return _Builder(board, numbers, built, until).build()


class _Builder:
    def __init__(
        self, board: Board, numbers: Sequence[int], built: KilnModel, until: int
    ) -> None:
        self.board = board
        self.facts = board.facts
        self.pieces = [(n, board.facts.pieces[n]) for n in numbers]
        self.built = built
        self.model: Any = built.model
        self.until = until
        self.costs: list[Any] = []

    def build(self, until: int | None = None) -> KilnModel:
        self.until = until or self.until
        for number, piece in self.pieces:
            self.each_pass_is_in_one_firing(piece)
            self.a_stack_is_fused_once(number, piece)
        self.free_hours_are_cut()
        for number, piece in self.pieces:
            for one in piece.passes:
                self.painting_comes_before_its_firing(piece, one)
            self.assembly_comes_between(number, piece)
        self.people_keep_their_hours()
        self.shelves_hold_their_loads()
        self.kilns_hold_one_firing()
        self.model.minimize(sum(self.costs))
        return self.built

    def each_pass_is_in_one_firing(self, piece: PieceFacts) -> None:
        board, facts, built = self.board, self.facts, self.built
        for one in piece.passes:
            runs = facts.nights[one.kind]
            literals = []
            for night in range(first_night(runs, piece.piece.release), len(runs)):
                if runs[night].end > self.until:
                    break
                standing = {f.key.kiln: f for f in board.at_night[one.kind][night]}
                for kiln in range(len(facts.kilns)):
                    if not piece.kilns_for[one.kind] >> kiln & 1:
                        continue
                    key = FiringKey(kiln, one.kind, night)
                    if kiln not in standing:
                        if not board.free[one.kind][night] >> kiln & 1:
                            continue
                        if key not in built.opened:
                            built.opened[key] = self.model.new_bool_var("")
                            self.costs.append(
                                facts.firing_mwh[kiln] * built.opened[key]
                            )
                    literal = self.model.new_bool_var("")
                    built.in_firing[one.number, key] = literal
                    literals.append(literal)
            in_one_of(self.model, literals)

    def a_stack_is_fused_once(self, number: int, piece: PieceFacts) -> None:
        fuse = piece.piece.fuse
        if fuse is None:
            return
        literals = []
        for slot in self._fuse_slots(piece):
            day = self.board.day_after(piece, slot.end)
            if day is None:
                continue
            literal = self.model.new_bool_var("")
            self.built.fuse[number, slot] = literal
            literals.append(literal)
            late = piece.piece.weight * days_late(piece.piece, day)
            price = late * DAY_WEIGHT + piece.fuse_mwh[slot.kiln] + day
            self.costs.append(price * literal)
        in_one_of(self.model, literals)

    def _fuse_slots(self, piece: PieceFacts) -> list[FuseSlot]:
        """Return the last start of each window of loading for each day of unloading."""
        fuse = piece.piece.fuse
        if fuse is None:
            return []
        best: dict[tuple[int, int], Any] = {}
        for run in self.facts.access.nights(fuse.load, fuse.run, fuse.unload):
            if piece.piece.release <= run.start and run.end <= self.until:
                day = (run.start // SLOTS_PER_DAY, run.unload // SLOTS_PER_DAY)
                best[day] = run
        return [
            FuseSlot(kiln, run.start, run.unload, run.end)
            for run in best.values()
            for kiln in piece.fuse_kilns
            if self.board.is_free(kiln, run.start, run.end)
        ]

    def free_hours_are_cut(self) -> None:
        """Cut free hours where a firing is unloaded, loaded, or a fuse begins."""
        cuts: set[int] = set()
        for _, key in self.built.in_firing:
            run = self.facts.nights[key.kind][key.night]
            cuts |= {run.start, run.end}
        cuts |= {slot.start for _, slot in self.built.fuse}
        for artist in sorted({piece.artist for _, piece in self.pieces}):
            hours = self.board.hours[artist]
            found = []
            for window, mask in enumerate(hours.free):
                for start, end in hours.segments([(window, mask)]):
                    inside = sorted(c for c in cuts if start < c < end)
                    edges = [start, *inside, end]
                    found += [(window, a, b) for a, b in pairwise(edges)]
            self.built.stretches[artist] = [s for s in found if s[2] <= self.until]

    def painting_comes_before_its_firing(
        self, piece: PieceFacts, one: PassFacts
    ) -> None:
        if not one.labour:
            return
        built, facts = self.built, self.facts
        ready = max(piece.piece.release, one.not_before)
        nights = [
            (facts.nights[key.kind][key.night].start, literal)
            for (n, key), literal in built.in_firing.items()
            if n == one.number
        ]
        before = []
        if one.position:
            earlier = piece.layers[one.layer][one.position - 1].number
            before = [
                (facts.night_ends[key.kind][key.night], literal)
                for (n, key), literal in built.in_firing.items()
                if n == earlier
            ]
        amounts = []
        for at, (_, start, end) in enumerate(built.stretches[piece.artist]):
            later = [literal for begins, literal in nights if begins >= end]
            done = [literal for ends, literal in before if ends <= start]
            if start < ready or not later or (before and not done):
                continue
            most = min(one.labour, end - start)
            amount = self.model.new_int_var(0, most, "")
            self.model.add(amount <= most * sum(later))
            if before:
                self.model.add(amount <= most * sum(done))
            built.paint[one.number, at] = amount
            amounts.append(amount)
        self.model.add(sum(amounts) == one.labour)

    def assembly_comes_between(self, number: int, piece: PieceFacts) -> None:
        built, one = self.built, piece.piece
        fuses = [(slot, lit) for (n, slot), lit in built.fuse.items() if n == number]
        lasts = [layer[-1].number for layer in piece.layers if layer]
        ends = {n: self._ends_of(n) for n in lasts}
        amounts = []
        for at, (_, start, end) in enumerate(built.stretches[piece.artist]):
            later = [lit for slot, lit in fuses if slot.start >= end]
            if start < one.release or not later or not one.assembly:
                continue
            done = [[lit for e, lit in ends[n] if e <= start] for n in lasts]
            if not all(done):
                continue
            most = min(one.assembly, end - start)
            amount = self.model.new_int_var(0, most, "")
            self.model.add(amount <= most * sum(later))
            for literals in done:
                self.model.add(amount <= most * sum(literals))
            built.assembly[number, at] = amount
            amounts.append(amount)
        if one.assembly:
            self.model.add(sum(amounts) == one.assembly)

    def _ends_of(self, number: int) -> list[tuple[int, Any]]:
        return [
            (self.facts.night_ends[key.kind][key.night], literal)
            for (n, key), literal in self.built.in_firing.items()
            if n == number
        ]

    def people_keep_their_hours(self) -> None:
        built = self.built
        artist_of = {
            p.number: piece.artist for _, piece in self.pieces for p in piece.passes
        }
        artist_of_piece = {n: piece.artist for n, piece in self.pieces}
        used: dict[tuple[int, int], list[Any]] = {}
        for (number, at), amount in built.paint.items():
            used.setdefault((artist_of[number], at), []).append(amount)
        for (number, at), amount in built.assembly.items():
            used.setdefault((artist_of_piece[number], at), []).append(amount)
        weeks: dict[tuple[int, int], list[Any]] = {}
        for (artist, at), amounts in used.items():
            window, start, end = built.stretches[artist][at]
            self.model.add(sum(amounts) <= end - start)
            week = self.board.hours[artist].week[window]
            weeks.setdefault((artist, week), []).extend(amounts)
        for (artist, week), amounts in weeks.items():
            self.model.add(sum(amounts) <= self.board.hours[artist].left[week])

    def shelves_hold_their_loads(self) -> None:
        """Area with gaps; what that lets through is cut away by `forbid_load`."""
        facts, built = self.facts, self.built
        loads: dict[FiringKey, list[tuple[Any, int]]] = {}
        for (number, key), literal in built.in_firing.items():
            shelf = facts.shelves[key.kiln][key.kind]
            width, depth = shelf.sizes[facts.pieces[facts.passes[number].piece].size]
            loads.setdefault(key, []).append((literal, round(width * depth)))
        for key, rows in loads.items():
            shelf = facts.shelves[key.kiln][key.kind]
            opened = built.opened.get(key)
            if opened is None:
                left = shelf.area_left(self.board.firings[key].state)
                no_fuller_than(self.model, rows, int(left) + 1)
            else:
                most = int(shelf.width * shelf.depth) + 1
                no_fuller_than(self.model, rows, most * opened)
                for literal, _ in rows:
                    self.model.add_implication(literal, opened)

    def kilns_hold_one_firing(self) -> None:
        intervals: dict[int, list[Any]] = {}
        for key, literal in self.built.opened.items():
            run = self.facts.nights[key.kind][key.night]
            intervals.setdefault(key.kiln, []).append(
                self.model.new_optional_fixed_size_interval_var(
                    run.start, run.end - run.start, literal, ""
                )
            )
        for (_, slot), literal in self.built.fuse.items():
            intervals.setdefault(slot.kiln, []).append(
                self.model.new_optional_fixed_size_interval_var(
                    slot.start, slot.end - slot.start, literal, ""
                )
            )
        for kiln in sorted(intervals):
            one_thing_at_a_time(self.model, intervals[kiln])


def forbid_load(
    built: KilnModel, board: Board, key: FiringKey, items: list[int]
) -> None:
    """Cut away a set of sizes that does not lie on a shelf, in all firings like it.

    Parameters
    ----------
    built : KilnModel
        Gets the cuts.
    board : Board
        With the facts.
    key : FiringKey
        Of the firing in which it was found.
    items : list of int
        Passes that were in it.

    References
    ----------
    Combinatorial Benders cut on the multiset of sizes.
    """
    facts = board.facts
    wanted: dict[int, int] = {}
    for item in items:
        size = facts.pieces[facts.passes[item].piece].size
        wanted[size] = wanted.get(size, 0) + 1
    shelf = facts.shelves[key.kiln][key.kind]
    for other in {k for _, k in built.in_firing}:
        if facts.shelves[other.kiln][other.kind] is not shelf:
            continue
        flags = []
        for size, count in sorted(wanted.items()):
            rows = [
                literal
                for (n, k), literal in built.in_firing.items()
                if k == other and facts.pieces[facts.passes[n].piece].size == size
            ]
            if len(rows) < count:
                break
            flag = built.model.new_bool_var("")
            built.model.add(sum(rows) <= count - 1).only_enforce_if(flag)
            flags.append(flag)
        else:
            built.model.add_bool_or(flags)


def improve_with_solver(
    board: Board, numbers: Sequence[int], limits: SolverLimits
) -> bool:
    """Free some pieces and let CP-SAT put them back; True if the plan got better.

    Parameters
    ----------
    board : Board
        Changed only when the plan gets better.
    numbers : sequence of int
        Pieces to free; all of a small plan, two or three of a large one.
    limits : SolverLimits
        For each of a few rounds; a round follows when a load did not pack.

    References
    ----------
    Large neighbourhood search with a solver (P. Shaw 1998, from memory).
    """
    mark, before = len(board.journal), board.score
    old = [board.placed[n] for n in numbers]
    until = _until(board, old)
    for number in numbers:
        board.remove(number)
    empty_mark = len(board.journal)
    builder = _Builder(board, numbers, KilnModel(model=new_model()), until)
    built = builder.build(until)
    _hint(built, board, numbers, old)
    for _ in range(ROUNDS):
        answer = solve(built.model, limits)
        if answer.value is None:
            break
        bad = _put_back(built, board, numbers, answer.solver)
        if bad is None and board.score < before:
            return True
        board.rollback(empty_mark)
        if bad is None or not bad[1]:
            break
        forbid_load(built, board, *bad)
    board.rollback(mark)
    return False


def _until(board: Board, old: Sequence[Placed | None]) -> int:
    ends = [
        placed.fuse.end if placed.fuse else placed.day * SLOTS_PER_DAY
        for placed in old
        if placed is not None
    ]
    latest = max(ends, default=board.facts.problem.horizon)
    return min(board.facts.problem.horizon, latest + SPARE_DAYS * SLOTS_PER_DAY)


def _hint(
    built: KilnModel, board: Board, numbers: Sequence[int], old: Sequence[Placed | None]
) -> None:
    """Hint where the pieces stood; hours are left to the solver."""
    ones: set[Any] = set()
    opened = set()
    for number, placed in zip(numbers, old, strict=True):
        if placed is None:
            return
        piece = board.facts.pieces[number]
        for one, key in zip(piece.passes, placed.firings, strict=True):
            ones.add((one.number, key))
            opened.add(key)
    for at, literal in built.in_firing.items():
        built.model.add_hint(literal, at in ones)
    for key, literal in built.opened.items():
        built.model.add_hint(literal, key in opened)


def _put_back(
    built: KilnModel, board: Board, numbers: Sequence[int], solver: Any
) -> tuple[FiringKey, list[int]] | None:
    """Put the answer on the board; return a load that does not pack, or None."""
    chosen = {
        n: key for (n, key), literal in built.in_firing.items() if solver.value(literal)
    }
    loads: dict[FiringKey, list[int]] = {}
    for n, key in chosen.items():
        loads.setdefault(key, []).append(n)
    for key, items in sorted(loads.items()):
        shelf = board.facts.shelves[key.kiln][key.kind]
        firing = board.firings.get(key)
        state = firing.state if firing is not None else 0
        for n in items:
            state = shelf.add(
                state, board.facts.pieces[board.facts.passes[n].piece].size
            )
            if state < 0:
                return key, ([] if firing is not None else items)
    given = _give_hours(built, board, numbers, solver)
    for number in numbers:
        piece = board.facts.pieces[number]
        fuse = next(
            (
                s
                for (n, s), lit in built.fuse.items()
                if n == number and solver.value(lit)
            ),
            None,
        )
        kept = Kept(
            {p.number: given[p.number] for p in piece.passes if p.number in given},
            {p.number: chosen[p.number] for p in piece.passes},
            given.get(-1 - number),
            fuse,
            None,
            {},
        )
        if not board.insert(number, PLAIN, kept):
            break
    return None


def _give_hours(
    built: KilnModel, board: Board, numbers: Sequence[int], solver: Any
) -> dict[int, Work]:
    """Return slots for every amount of work; assembly of piece n is number -1 - n."""
    amounts: dict[int, list[tuple[int, int, int]]] = {}
    facts = board.facts
    for (number, at), variable in sorted(built.paint.items()):
        artist = facts.pieces[facts.passes[number].piece].artist
        amounts.setdefault(artist, []).append((at, number, solver.value(variable)))
    for (number, at), variable in sorted(built.assembly.items()):
        artist = facts.pieces[number].artist
        amounts.setdefault(artist, []).append((at, -1 - number, solver.value(variable)))
    given: dict[int, Work] = {}
    for artist, rows in sorted(amounts.items()):
        shares: dict[int, dict[int, int]] = {}
        filled: dict[int, int] = {}
        for at, number, amount in sorted(rows):
            if not amount:
                continue
            window, start, _ = built.stretches[artist][at]
            first = start + filled.get(at, 0) - board.hours[artist].starts[window]
            filled[at] = filled.get(at, 0) + amount
            bits = ((1 << amount) - 1) << first
            own = shares.setdefault(number, {})
            own[window] = own.get(window, 0) | bits
        for number, own in shares.items():
            given[number] = _as_work(board, artist, sorted(own.items()))
    return given


def _as_work(board: Board, person: int, shares: list[Share]) -> Work:
    segments = board.hours[person].segments(shares)
    return Work(person, shares, segments[0][0], segments[-1][1])
