"""After a fault, an overrun, a lost layer, a sick helper or a new kiln: a plan in which
as little as possible moves, and beside it one that may move more; each with its
changes.

What is running or confirmed is fixed in the new problem and cannot move at all.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from firing.planning.problem.problem import SLOTS_PER_DAY, Problem, Skill
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import Solution, Task
from firing.planning.proofs.check import CheckedPlan, checked_plan
from firing.planning.search.board import Board
from firing.planning.search.construct import by_due_day
from firing.planning.search.feasible import check_feasible
from firing.planning.search.improve import Limits, improve
from firing.planning.search.placing import PLAIN
from firing.planning.search.progress import Report, nobody
from firing.planning.search.publish import kept_parts, to_plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Moves:
    """How much moves: firings first, then days they move, then tasks of work."""

    firings: int
    days: float
    work: int

    @property
    def order(self) -> tuple[float, ...]:
        """What plans of equal lateness are compared by."""
        return (self.firings, self.days, self.work)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChange:
    """One change: of which piece, pass or work, and from where to where.

    Attributes
    ----------
    what : str
        "firing", "fuse", "work" or "delivery".
    before, after : tuple of (kiln or person, start) or None
        For a delivery, the piece and its day; None where there is none.
    """

    what: str
    piece: str
    layer: int | None = None
    position: int | None = None
    task: Skill | None = None
    before: tuple[str, int] | None
    after: tuple[str, int] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A plan to choose, what it costs, what moves."""

    plan: Solution
    verdict: CheckedPlan
    moves: Moves
    changes: tuple[PlanChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Replan:
    """Options, the recommended one first.

    Attributes
    ----------
    least : Option
        Only what must move does.
    wider : Option or None
        Less late, at the price of more moves; None when there is no such plan.
    was_stopped : bool
        Whether the fence ended the search for the wider plan.
    """

    least: Option
    wider: Option | None
    was_stopped: bool = False

    @property
    def recommended(self) -> Option:
        """By the order of the aims: delivered, days late, then moves."""
        return self.least if self.wider is None else self.wider


def replan(
    problem: Problem,
    published: Solution,
    *,
    seed: int,
    limits: Limits | None = None,
    report: Report = nobody,
) -> Replan:
    """Plan again after something changed, staying near the published plan.

    Parameters
    ----------
    problem : Problem
        As it is now: what is done is left out, what runs is fixed, and no piece is
        released before now.
    published : Solution
        The plan that stands; ids of pieces, layers and passes mean the same in both.
    seed : int
        Of the search for the wider plan.
    limits : Limits or None
        Of that search; None looks only for the plan of least moves.
    report : callable
        Told how that search stands, at most every `limits.units_per_report` units.

    Raises
    ------
    CannotPlan
        When something cannot be done at all.
    RuleBroken
        When the outcome breaks a rule: a fault of the program.

    References
    ----------
    Right shift and insertion first, then ruin and recreate; common in the literature on
    rescheduling, no single source.
    """
    check_feasible(problem)
    facts = Facts(problem)
    board = keep_what_can_stay(facts, published)
    least = _option(problem, published, board)
    wider, was_stopped = None, False
    if (
        limits is not None
        and least.verdict.weighted_days_late + least.verdict.undelivered
    ):
        outcome = improve(board, seed=seed, limits=limits, report=report)
        was_stopped = outcome.was_stopped
        found = _option(problem, published, outcome.board)
        if _aims(found.verdict) < _aims(least.verdict):
            wider = found
    return Replan(least=least, wider=wider, was_stopped=was_stopped)


def _aims(verdict: CheckedPlan) -> tuple[int, int]:
    return (verdict.undelivered, verdict.weighted_days_late)


def keep_what_can_stay(
    facts: Facts, published: Solution, *, count: int | None = None
) -> Board:
    """Return a board with all that can stay as it was, and the rest put in around it.

    Parameters
    ----------
    facts : Facts
        Tables of the problem as it is now.
    published : Solution
        The plan that stands; it may name what is gone.
    count : int or None
        Only the first so many pieces of the problem; None for all.

    References
    ----------
    Right shift and insertion; see `replan`.
    """
    kept = kept_parts(facts, published)
    board = Board(facts)
    affected = [
        number
        for number in _by_due_day(facts)
        if (count is None or number < count)
        and not board.insert(number, PLAIN, kept[number]._replace(is_strict=True))
    ]
    for number in affected:
        if not board.insert(number, PLAIN, kept[number]):
            board.insert(number)
    board.journal.clear()
    return board


def _by_due_day(facts: Facts) -> Sequence[int]:
    return sorted(
        range(len(facts.pieces)), key=lambda n: (*by_due_day(facts.pieces[n]), n)
    )


def _option(problem: Problem, published: Solution, board: Board) -> Option:
    plan = to_plan(board)
    return Option(
        plan=plan,
        verdict=checked_plan(problem, plan),
        moves=count_moves(published, plan),
        changes=tuple(list_changes(published, plan)),
    )


Place = tuple[str, int]


def _passes(plan: Solution) -> dict[tuple[str, int, int], Place]:
    return {
        (item.piece, item.layer, item.position): (one.kiln, one.load_start)
        for one in plan.firings
        for item in one.items
    }


def _fuses(plan: Solution) -> dict[str, Place]:
    return {one.piece: (one.kiln, one.load_start) for one in plan.fuses}


def _tasks(plan: Solution) -> dict[tuple[str, Skill, int | None, int | None], Task]:
    return {(o.piece, o.task, o.layer, o.position): o for o in plan.work}


def count_moves(before: Solution, after: Solution) -> Moves:
    """Count what one plan has differently from another.

    A firing moves when none of its layers is fired at that time in that kiln any more,
    though some still have to be fired. What is new or done is no move.

    Parameters
    ----------
    before, after : Solution
        Ids mean the same in both.

    References
    ----------
    Definition of this project.
    """
    old_passes, new_passes = _passes(before), _passes(after)
    by_firing: dict[Place, list[Place]] = {}
    for at, place in old_passes.items():
        if at in new_passes:
            by_firing.setdefault(place, []).append(new_passes[at])
    moved = [
        (place, goals[0]) for place, goals in by_firing.items() if place not in goals
    ]
    new_fuses = _fuses(after)
    moved += [
        (place, new_fuses[piece])
        for piece, place in _fuses(before).items()
        if piece in new_fuses and new_fuses[piece] != place
    ]
    new_tasks = _tasks(after)
    work = sum(
        key in new_tasks
        and (new_tasks[key].segments, new_tasks[key].person)
        != (task.segments, task.person)
        for key, task in _tasks(before).items()
    )
    days = sum(abs(new[1] - old[1]) for old, new in moved) / SLOTS_PER_DAY
    return Moves(firings=len(moved), days=round(days, 2), work=work)


def list_changes(before: Solution, after: Solution) -> list[PlanChange]:
    """Return every change between two plans, pass by pass and piece by piece.

    Parameters
    ----------
    before, after : Solution
        Ids mean the same in both.

    References
    ----------
    Definition of this project.
    """
    found: list[PlanChange] = []
    old_passes, new_passes = _passes(before), _passes(after)
    for at in sorted(old_passes.keys() | new_passes.keys()):
        old, new = old_passes.get(at), new_passes.get(at)
        if old != new:
            found.append(
                PlanChange(
                    what="firing",
                    piece=at[0],
                    layer=at[1],
                    position=at[2],
                    before=old,
                    after=new,
                )
            )
    found += _moved("fuse", _fuses(before), _fuses(after))
    old_tasks, new_tasks = _tasks(before), _tasks(after)
    for key in sorted(old_tasks.keys() & new_tasks.keys(), key=str):
        was, now = old_tasks[key], new_tasks[key]
        if was.segments != now.segments:
            found.append(
                PlanChange(
                    what="work",
                    piece=was.piece,
                    layer=was.layer,
                    position=was.position,
                    task=was.task,
                    before=(was.person, was.segments[0][0]),
                    after=(now.person, now.segments[0][0]),
                )
            )
    return found + _moved("delivery", _days(before), _days(after))


def _days(plan: Solution) -> dict[str, Place]:
    return {piece: (piece, day) for piece, day in plan.delivery.items()}


def _moved(
    what: str, before: dict[str, Place], after: dict[str, Place]
) -> list[PlanChange]:
    return [
        PlanChange(
            what=what, piece=piece, before=before.get(piece), after=after.get(piece)
        )
        for piece in sorted(before.keys() | after.keys())
        if before.get(piece) != after.get(piece)
    ]
