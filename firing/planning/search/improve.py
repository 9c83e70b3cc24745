"""Improves a plan by ruin and recreate: a few pieces in each other's way are taken out
and put back in another order and manner, thousands of times.

The search counts work units, not seconds; callers with a clock may pass a fence. The
same board, seed and units give the same plan.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp

from firing.planning.problem.problem import SLOTS_PER_DAY
from firing.planning.problem.problem_tables import MILLI, PieceFacts
from firing.planning.proofs.bounds import Bounds, lower_bounds
from firing.planning.search.board import Board
from firing.planning.search.construct import (
    by_due_day,
    by_last_start,
    by_weighted_due_day,
)
from firing.planning.search.placing import Manner, Placed, Score
from firing.planning.search.progress import Progress, Report, nobody
from firing.planning.search.repack import repack_some
from firing.planning.search.tidy import bring_forward, empty, never, tidy
from studio.seeded_random import Dice

# Board steps per try that insertions do not count: removal, bookkeeping.
UNITS_PER_TRY = 90
# The first part of the search gains days, the rest energy at those days.
DAYS_SHARE = 0.55
# One kWh in days late while it gains days, in a search that may go back.
DAYS_PER_KWH = 0.004
HOT_DAYS, COLD_DAYS = 1.2, 0.08
HOT_KWH, COLD_KWH = 100.0, 4.0
# While it gains energy, the search may pass through a day later for this much.
KWH_PER_DAY = 400.0
MOST_REMOVED = 7
# Of this many tries for energy, this many repack a few firings.
REPACK, REPACK_OF = 7, 8
# The earliest assembly of a piece before it would be too late; a piece that has time
# may wait, so that its layers can wait for others.
MOST_DAYS_EARLY = 14
# Share of working days' slots in which somebody works, for that same guess.
SLOTS_PER_LABOUR = 3
# Nights to wait for a firing to join, while gaining days and while gaining energy.
SHORT_WAITS = (0, 0, 0, 1, 2, 3, 5)
LONG_WAITS = (0, 1, 2, 3, 5, 8, 12)
# Tidying looks at every firing: rarely, in a large plan.
TRIES_PER_TIDY_AND_PIECE = 8
LEAST_TRIES_PER_TIDY = 300
# Energy is gained in rounds, each reheated, as many as the units allow.
UNITS_PER_ROUND_AND_PIECE = 25_000
MOST_ROUNDS = 4
# More tries per pass than this find nothing new in a small plan (measured on S-1).
UNITS_PER_PASS = 40_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """When the search ends.

    Attributes
    ----------
    units : int
        Steps of work on the board; the plan depends on these alone.
    fence : callable
        Asked after every try, so it should be quick; True ends the search at once with
        the best plan so far. With a fence that comes first, the plan depends on the
        machine.
    units_per_report : int
        Least number of steps between two reports to whoever watches.
    """

    units: int
    fence: Callable[[], bool] = never
    units_per_report: int = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchResult:
    """What the search did: the best board, its tries, and whether the fence ended it."""

    board: Board
    tries: int
    was_stopped: bool


def improve(
    board: Board,
    *,
    seed: int,
    limits: Limits,
    bounds: Bounds | None = None,
    report: Report = nobody,
) -> SearchResult:
    """Return the best plan found from this one, never a worse one.

    It ends before its units are used up if the plan meets its bounds, or if a problem
    is so small that more tries would only repeat themselves.

    Parameters
    ----------
    board : Board
        A plan; used up by the search.
    seed : int
        Of the dice.
    limits : Limits
        Work units, and the outer fence.
    bounds : Bounds or None
        Of the problem; None reckons them.
    report : callable
        Told how the search stands at its start, every so many units, and at its end.

    References
    ----------
    G. Schrimpf and others, Record breaking optimization results using the ruin and
    recreate principle (2000, from memory); S. Kirkpatrick and others (1983, from
    memory) for the cooling.
    """
    if not board.facts.pieces:
        return SearchResult(board=board, tries=0, was_stopped=False)
    search = _Search(
        board, Dice(seed), limits, bounds or lower_bounds(board.facts), report
    )
    search.run()
    best = search.best_board()
    search.tell(share=1.0)
    return SearchResult(board=best, tries=search.tries, was_stopped=search.was_stopped)


class _Search:
    def __init__(
        self,
        board: Board,
        dice: Dice,
        limits: Limits,
        bounds: Bounds,
        report: Report,
    ) -> None:
        self.board = board
        self.facts = board.facts
        self.dice = dice
        self.limits = limits
        self.bounds = bounds
        self.report = report
        self.units = min(limits.units, UNITS_PER_PASS * (1 + self.facts.pass_count))
        self.tries = 0
        self.wants_days = True
        self.was_stopped = False
        self.started_units = board.work_units
        self.tidy_every = max(
            LEAST_TRIES_PER_TIDY, TRIES_PER_TIDY_AND_PIECE * len(board.placed)
        )
        board.journal.clear()
        self.best_score = board.score
        self.best_placed: list[Placed | None] = list(board.placed)
        self.told_at = 0.0
        self.of_artist: dict[int, list[int]] = {}
        for number, piece in enumerate(self.facts.pieces):
            self.of_artist.setdefault(piece.artist, []).append(number)

    # --- the loop -------------------------------------------------------------

    def run(self) -> None:
        self.tell(share=0.0)
        while self._is_late() and not self._is_over(DAYS_SHARE):
            self._try(self._days_energy, self._cooled(0.0, DAYS_SHARE, days=True))
        self._go_back_to_best()
        self.wants_days = False
        begun = self._spent()
        per_round = UNITS_PER_ROUND_AND_PIECE * len(self.board.placed)
        rounds = max(1, min(MOST_ROUNDS, self.units // per_round))
        for number in range(rounds):
            start = begun + (1 - begun) * number / rounds
            end = begun + (1 - begun) * (number + 1) / rounds
            self._tidy_best()
            while not self._is_over(end):
                self._try(self._kwh_energy, self._cooled(start, end, days=False))

    def _is_late(self) -> bool:
        return self.best_score[:2] > (0, self.bounds.weighted_days_late)

    def best_board(self) -> Board:
        self._tidy_best()
        bring_forward(self.board, self.limits.fence)
        self.board.journal.clear()
        self.best_score = self.board.score
        return self.board

    def _tidy_best(self) -> None:
        self._go_back_to_best()
        tidy(self.board, self.limits.fence)
        self.board.journal.clear()
        if self.board.score < self.best_score:
            self.best_score = self.board.score
            self.best_placed = list(self.board.placed)

    def _go_back_to_best(self) -> None:
        if self.board.score == self.best_score:
            return
        units = self.board.work_units
        self.board = Board(self.facts)
        self.board.load(self.best_placed)
        self.board.work_units = units

    def _spent(self) -> float:
        used = self.board.work_units - self.started_units + self.tries * UNITS_PER_TRY
        return used / max(self.units, 1)

    def _is_over(self, share: float) -> bool:
        spent = self._spent()
        if self.was_stopped or spent >= share or self._is_at_bounds():
            return True
        if (spent - self.told_at) * self.units >= self.limits.units_per_report:
            self.tell(share=spent)
        self.was_stopped = self.limits.fence()
        return self.was_stopped

    def _is_at_bounds(self) -> bool:
        best, bounds = self.best_score, self.bounds
        return (
            best.undelivered == 0
            and best.weighted_days_late <= bounds.weighted_days_late
            and best.mwh <= bounds.kwh * MILLI
        )

    def tell(self, *, share: float) -> None:
        """Report the best plan so far."""
        self.told_at = share
        best, bounds = self.best_score, self.bounds
        self.report(
            Progress(
                undelivered=best.undelivered,
                weighted_days_late=best.weighted_days_late,
                kwh=best.mwh / MILLI,
                least_days_late=bounds.weighted_days_late,
                least_kwh=bounds.kwh,
                tries=self.tries,
                share=min(share, 1.0),
            )
        )

    def _cooled(self, begin: float, end: float, *, days: bool) -> float:
        hot, cold = (HOT_DAYS, COLD_DAYS) if days else (HOT_KWH, COLD_KWH)
        progress = min(1.0, (self._spent() - begin) / max(end - begin, 1e-9))
        return float(hot * (cold / hot) ** progress)

    def _days_energy(self, score: Score) -> float:
        return (
            score.undelivered * 1e6
            + score.weighted_days_late
            + score.mwh * DAYS_PER_KWH / 1000
            + score.delivery_days * 1e-4
        )

    def _kwh_energy(self, score: Score) -> float:
        return (
            score.undelivered * 1e9
            + score.weighted_days_late * KWH_PER_DAY
            + score.mwh / 1000
            + score.delivery_days * 1e-3
        )

    def _try(self, energy: Callable[[Score], float], temperature: float) -> None:
        board, dice = self.board, self.dice
        self.tries += 1
        before = energy(board.score)
        if self.tries % self.tidy_every == 0:
            tidy(board, self.limits.fence)
        elif not self.wants_days and board.firings and dice.below(REPACK_OF) < REPACK:
            self._lay_some_anew()
        elif dice.below(6) == 0 and board.firings:
            self._empty_a_thin_firing()
        else:
            self._recreate(self._ruin())
        change = energy(board.score) - before
        if change <= 0 or dice.unit() < exp(-change / temperature):
            board.journal.clear()
            if board.score < self.best_score:
                self.best_score = board.score
                self.best_placed = list(board.placed)
        else:
            board.rollback(0)

    # --- what is taken out ------------------------------------------------------

    def _ruin(self) -> list[int]:
        """Take out a piece and some that are in its way; return all that are out."""
        board, dice = self.board, self.dice
        seed = self._seed_piece()
        count = 2 + dice.below(MOST_REMOVED - 1)
        chosen = [seed]
        if dice.below(3):
            chosen += self._near(seed, self.of_artist[self.facts.pieces[seed].artist])
        else:
            chosen += self._sharing(seed)
        chosen = chosen[:count]
        for number in chosen:
            board.remove(number)
        left = [n for n, placed in enumerate(board.placed) if placed is None]
        return left if board.undelivered else chosen

    def _seed_piece(self) -> int:
        placed, dice = self.board.placed, self.dice
        seed = dice.below(len(placed))
        # Three draws for a late one: lateness sits in few pieces.
        for _ in range(3):
            one = placed[seed]
            if one is None or one.cost or dice.below(4) == 0:
                break
            seed = dice.below(len(placed))
        return seed

    def _near(self, seed: int, others: Sequence[int]) -> list[int]:
        """Return other pieces by how near in time they are delivered, blurred."""
        placed, dice = self.board.placed, self.dice
        own = placed[seed]
        day = own.day if own is not None else 0
        blurred = []
        for other in others:
            one = placed[other]
            if other != seed and one is not None:
                blurred.append((abs(one.day - day) * (0.3 + dice.unit()), other))
        return [other for _, other in sorted(blurred)]

    def _sharing(self, seed: int) -> list[int]:
        """Return pieces with layers in the same firings, and kilns' other guests."""
        board = self.board
        own = board.placed[seed]
        if own is None:
            return self._near(seed, range(len(board.placed)))
        found: dict[int, None] = {}
        for key in own.firings:
            for item in board.firings[key].items:
                found[self.facts.passes[item].piece] = None
        found.pop(seed, None)
        result = list(found)
        self.dice.shuffle(result)
        return result or self._near(
            seed, self.of_artist[self.facts.pieces[seed].artist]
        )

    # --- how it is put back --------------------------------------------------------

    def _recreate(self, numbers: list[int]) -> None:
        dice = self.dice
        self._order(numbers)
        patience = dice.pick(SHORT_WAITS if self.wants_days else LONG_WAITS)
        is_roomy = dice.below(3) == 0
        for number in numbers:
            self.board.insert(number, self._manner(number, patience, is_roomy=is_roomy))

    def _order(self, numbers: list[int]) -> None:
        pieces, dice = self.facts.pieces, self.dice
        way = dice.below(5)
        dice.shuffle(numbers)
        if way < 3:
            rule = (by_due_day, by_last_start, by_weighted_due_day)[way]
            noise = {n: dice.unit() * 8 for n in numbers}
            numbers.sort(key=lambda n: rule(pieces[n])[0] + noise[n])

    def _manner(self, number: int, patience: int, *, is_roomy: bool) -> Manner:
        dice = self.dice
        piece = self.facts.pieces[number]
        layers = list(range(len(piece.layers)))
        if dice.below(2):
            dice.shuffle(layers)
        not_before = 0
        if dice.below(8) == 0 and piece.piece.due_day is not None:
            # Sometimes a piece that has time makes way for the others.
            span = piece.piece.due_day * SLOTS_PER_DAY - piece.piece.release
            if span > 0:
                not_before = piece.piece.release + dice.below(span) // 2
        return Manner(
            layers=tuple(layers),
            patience=patience,
            is_roomy=is_roomy,
            singles_first=dice.below(3) == 0,
            not_before=not_before,
            assembled_from=self._assembled_from(piece),
        )

    def _assembled_from(self, piece: PieceFacts) -> int:
        """Return a slot before which a piece with time is not assembled; 0 if any."""
        one = piece.piece
        if self.wants_days or one.due_day is None or self.dice.below(2):
            return 0
        labour = SLOTS_PER_LABOUR * (one.assembly + one.coldwork)
        run = one.fuse.run + SLOTS_PER_DAY if one.fuse else 0
        latest = (one.due_day - one.ship_days - 2) * SLOTS_PER_DAY - run - labour
        return latest - self.dice.below(MOST_DAYS_EARLY * SLOTS_PER_DAY)

    def _lay_some_anew(self) -> None:
        """Repack a thin firing's layers with some neighbours'."""
        board, dice = self.board, self.dice
        keys = list(board.firings)
        drawn = [board.firings[dice.pick(keys)] for _ in range(2)]
        firing = min(drawn, key=lambda one: (len(one.items), one.key))
        repack_some(board, firing, dice)

    def _empty_a_thin_firing(self) -> None:
        """Empty one firing into others, taking whole pieces out where that fails."""
        board, dice = self.board, self.dice
        keys = list(board.firings)
        drawn = [board.firings[dice.pick(keys)] for _ in range(4)]
        firing = min(drawn, key=lambda one: (len(one.items), one.key))
        board.work_units += 2 * len(firing.items)
        if empty(board, firing):
            return
        owners: dict[int, None] = {}
        for item in firing.items:
            owners[self.facts.passes[item].piece] = None
        numbers = list(owners)[:MOST_REMOVED]
        for number in numbers:
            board.remove(number)
        patience = 2 + dice.below(5)
        self._order(numbers)
        for number in numbers:
            board.insert(number, self._manner(number, patience, is_roomy=False))
