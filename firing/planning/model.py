"""CP-SAT: the rules of the shop as constraints, one function per rule, and the model of
a few pieces freed in a plan whose rest stands. The only module that uses OR-Tools.

Building and solving are apart. The kiln model restricts itself (one fuse start per day
of loading and of unloading), so that its answers are improvements, never proofs.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, Any

from firing.planning.access import first_night
from firing.planning.board import (
    PLAIN,
    Board,
    FiringKey,
    FuseSlot,
    Kept,
    Placed,
    Work,
)
from firing.planning.facts import PassFacts, PieceFacts
from firing.planning.hours import Share
from firing.planning.problem import SLOTS_PER_DAY, days_late

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, CpSolver, IntVar

# A day late outweighs every saving of energy: kWh of a plan stay below this.
DAY_WEIGHT = 10_000_000
# The model may deliver freed pieces this much later than they stand now.
SPARE_DAYS = 7
ROUNDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class SolverLimits:
    """When CP-SAT stops, and how it reasons.

    Attributes
    ----------
    deterministic_time : float
        Its own measure of work; the answer depends on this alone.
    seconds : float
        The outer fence.
    watches_order : bool
        Reason about which firing comes before which in one kiln: worth its time where
        every firing has its kiln and only the order is open.
    """

    deterministic_time: float
    seconds: float
    seed: int = 1
    watches_order: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SolverAnswer:
    """Status in CP-SAT's words, value and bound of the objective (None if unknown)."""

    status: str
    value: float | None
    bound: float | None
    solver: Any


def solve(model: "CpModel", limits: SolverLimits) -> SolverAnswer:
    """Solve a model with one worker; out of time is an answer, not an error.

    Parameters
    ----------
    model : CpModel
        Built by the functions of this module.
    limits : SolverLimits
        Deterministic time and seconds.

    References
    ----------
    OR-Tools CP-SAT, parameters `max_deterministic_time` and `num_workers`.
    """
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = limits.seed
    solver.parameters.max_deterministic_time = limits.deterministic_time
    solver.parameters.max_time_in_seconds = limits.seconds
    # Measured: ft10 proved in 0.7 units of deterministic time with these, 21 without;
    # mk05, where firings choose their kiln, in 2.6 without, not in 8 with them.
    solver.parameters.use_dynamic_precedence_in_disjunctive = limits.watches_order
    solver.parameters.use_strong_propagation_in_disjunctive = limits.watches_order
    status = solver.solve(model)
    is_known = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return SolverAnswer(
        status=solver.status_name(status),
        value=solver.objective_value if is_known else None,
        bound=solver.best_objective_bound if is_known else None,
        solver=solver,
    )


# --- rules of any shop ------------------------------------------------------------


def one_thing_at_a_time(model: "CpModel", intervals: Sequence[Any]) -> None:
    """A kiln holds one firing, a person does one thing.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    intervals : sequence of IntervalVar
        Optional ones count when they are present.

    References
    ----------
    Disjunctive resource.
    """
    model.add_no_overlap(intervals)


def after_each_other(model: "CpModel", steps: Sequence[tuple[Any, Any]]) -> None:
    """Each step begins when the one before has ended.

    Parameters
    ----------
    model : CpModel
        Gets the constraints.
    steps : sequence of (start, end)
        In their order [slots].

    References
    ----------
    Precedence.
    """
    for (_, end), (start, _) in pairwise(steps):
        model.add(start >= end)


def in_one_of(model: "CpModel", literals: Iterable["IntVar"]) -> None:
    """A firing takes place in exactly one of the kilns and times that could have it.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    literals : iterable of BoolVar
        One per place.

    References
    ----------
    Assignment.
    """
    model.add_exactly_one(literals)


def no_more_at_once(model: "CpModel", intervals: Sequence[Any], capacity: int) -> None:
    """Equal kilns as one resource: not more firings at once than there are kilns.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    intervals : sequence of IntervalVar
        Optional ones count when they are present.
    capacity : int
        Number of equal kilns.

    References
    ----------
    Cumulative resource; names are given afterwards.
    """
    model.add_cumulative(intervals, [1] * len(intervals), capacity)


def no_fuller_than(
    model: "CpModel", loads: Sequence[tuple["IntVar", int]], most: Any
) -> None:
    """A load holds no more than its firing takes, in number or in area.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    loads : sequence of (BoolVar, size)
        What may lie in the firing.
    most : int or linear expression
        0 where the firing does not take place.

    References
    ----------
    Necessary, not sufficient, where sizes are areas.
    """
    model.add(sum(size * literal for literal, size in loads) <= most)


def no_more_than_there_is_time(
    model: "CpModel", loads: Sequence[tuple["IntVar", int]], end: Any
) -> None:
    """What is done in one kiln takes no longer together than until the end.

    Parameters
    ----------
    model : CpModel
        Gets the constraint.
    loads : sequence of (BoolVar, duration)
        What may be done there [slots].
    end : linear expression
        When all is done [slots].

    References
    ----------
    Follows from one thing at a time; it lets the solver's relaxation see the load.
    """
    model.add(sum(duration * literal for literal, duration in loads) <= end)


@dataclass(slots=True)
class Shop:
    """A plain shop: jobs of steps in order, each on one of some machines."""

    model: Any
    makespan: Any


def build_shop(jobs: Sequence[Sequence[Sequence[tuple[int, int]]]]) -> Shop:
    """Build the model of a shop whose kilns are machines and whose firings are steps.

    Parameters
    ----------
    jobs : sequence
        Per job its steps in order; per step the (machine, duration) pairs that could do
        it, durations in slots.

    References
    ----------
    Job shop and flexible job shop, through the rules that kilns and people keep.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    horizon = sum(max(d for _, d in step) for job in jobs for step in job)
    on_machine: dict[int, list[Any]] = {}
    loads: dict[int, list[tuple[Any, int]]] = {}
    makespan = model.new_int_var(0, horizon, "makespan")
    for job in jobs:
        steps = []
        for places in job:
            start = model.new_int_var(0, horizon, "")
            end = model.new_int_var(0, horizon, "")
            literals = []
            for machine, duration in places:
                literal = model.new_bool_var("")
                interval = model.new_optional_interval_var(
                    start, duration, end, literal, ""
                )
                on_machine.setdefault(machine, []).append(interval)
                loads.setdefault(machine, []).append((literal, duration))
                literals.append(literal)
            in_one_of(model, literals)
            steps.append((start, end))
        after_each_other(model, steps)
        model.add(makespan >= steps[-1][1])
    for machine in sorted(on_machine):
        one_thing_at_a_time(model, on_machine[machine])
        no_more_than_there_is_time(model, loads[machine], makespan)
    model.minimize(makespan)
    return Shop(model=model, makespan=makespan)


def solve_shop(
    jobs: Sequence[Sequence[Sequence[tuple[int, int]]]], limits: SolverLimits
) -> SolverAnswer:
    """Build and solve a shop, reasoning about order where no step chooses its machine.

    Parameters
    ----------
    jobs : sequence
        As for `build_shop`.
    limits : SolverLimits
        When it stops.

    References
    ----------
    As `build_shop`.
    """
    has_choice = any(len(places) > 1 for job in jobs for places in job)
    shop = build_shop(jobs)
    return solve(shop.model, replace(limits, watches_order=not has_choice))


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchJob:
    """A layer for a shop of equal kilns: kind, and whole units of time and weight."""

    kind: int
    duration: int
    arrival: int
    due: int
    weight: int


def build_batch_shop(jobs: Sequence[BatchJob], *, kilns: int, size: int) -> Any:
    """Build the model of layers that share firings of their kind in equal kilns.

    Parameters
    ----------
    jobs : sequence of BatchJob
        Those of a kind have the same duration.
    kilns, size : int
        How many kilns there are, and how many layers a firing takes.

    Returns
    -------
    CpModel
        Minimises the total of weight times lateness.

    References
    ----------
    Parallel batch machines with incompatible families; used firings first and in order
    of their start, equal kilns as one resource.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    kinds = sorted({job.kind for job in jobs})
    # Whatever comes last, all could follow one another in one kiln after it.
    per_kind = {kind: [j for j in jobs if j.kind == kind] for kind in kinds}
    horizon = max(job.arrival for job in jobs) + max(
        max(j.duration for j in jobs),
        -(-sum(len(m) * m[0].duration for m in per_kind.values()) // kilns)
        + max(j.duration for j in jobs),
    )
    intervals, costs = [], []
    for members in per_kind.values():
        members.sort(key=lambda job: (job.arrival, job.due, -job.weight))
        duration = members[0].duration
        slots = range(len(members))
        starts = [model.new_int_var(0, horizon, "") for _ in slots]
        used = [model.new_bool_var("") for _ in slots]
        inside = [[model.new_bool_var("") for _ in slots] for _ in members]
        for slot in slots:
            intervals.append(
                model.new_optional_fixed_size_interval_var(
                    starts[slot], duration, used[slot], ""
                )
            )
            loads = [(row[slot], 1) for row in inside]
            no_fuller_than(model, loads, size * used[slot])
            model.add(sum(row[slot] for row in inside) >= 1).only_enforce_if(used[slot])
            model.add(starts[slot] == horizon).only_enforce_if(used[slot].negated())
        after_each_other(model, [(start, start) for start in starts])
        for one, two in pairwise(used):
            model.add_implication(two, one)
        for job, row in zip(members, inside, strict=True):
            in_one_of(model, row)
            least = max(0, job.arrival + duration - job.due)
            late = model.new_int_var(least, horizon + duration, "")
            for start, literal in zip(starts, row, strict=True):
                model.add(start >= job.arrival).only_enforce_if(literal)
                model.add(late >= start + duration - job.due).only_enforce_if(literal)
            costs.append(job.weight * late)
    no_more_at_once(model, intervals, kilns)
    model.minimize(sum(costs))
    return model


def least_weighted_lateness(
    pieces: Sequence[tuple[int, int, int, int]],
    rushes: Sequence[tuple[Sequence[tuple[int, int, int]], int]],
    *,
    most_late: int,
    limits: SolverLimits,
) -> int:
    """Return a bound of the weighted days late of pieces that compete for time.

    Parameters
    ----------
    pieces : sequence of (piece, days late alone, due day, weight)
        Those that can be late.
    rushes : sequence of (needs, most)
        Needs are (piece, amount, day): the sum of the amounts of the pieces that come
        by their day is at most `most`.
    most_late : int
        Days late count up to this many.
    limits : SolverLimits
        When it stops, its bound counts.

    References
    ----------
    One literal per piece and day late; see `lateness` for what it proves.
    """
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    later: dict[int, list[Any]] = {}
    due_of: dict[int, int] = {}
    costs, fixed = [], 0
    for number, alone, due, weight in pieces:
        least = min(alone, most_late)
        # later[n][k]: it comes more than `least + k` days late.
        literals = [model.new_bool_var("") for _ in range(most_late - least)]
        for one, two in pairwise(literals):
            model.add_implication(two, one)
        later[number] = literals
        due_of[number] = due + least
        fixed += weight * least
        costs += [weight * literal for literal in literals]
    for needs, most in rushes:
        terms, total = [], 0
        for number, amount, day in needs:
            if number not in later or day < due_of[number]:
                continue
            at = day - due_of[number]
            if at < len(later[number]):
                terms.append((later[number][at], amount))
                total += amount
        if total > most:
            model.add(sum(amount * one for one, amount in terms) >= total - most)
    model.minimize(sum(costs))
    answer = solve(model, limits)
    if answer.bound is None and answer.status != "OPTIMAL":
        # Stopped before there was any answer; its bound is known all the same.
        bound = float(answer.solver.best_objective_bound)
    else:
        bound = answer.bound or 0.0
    return fixed + max(0, ceil(bound - 1e-6))


# --- pieces freed in a plan -----------------------------------------------------------


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
    from ortools.sat.python import cp_model

    built = KilnModel(model=cp_model.CpModel())
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
    from ortools.sat.python import cp_model

    builder = _Builder(board, numbers, KilnModel(model=cp_model.CpModel()), until)
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
    built: KilnModel, board: Board, numbers: Sequence[int], solver: "CpSolver"
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
    built: KilnModel, board: Board, numbers: Sequence[int], solver: "CpSolver"
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
