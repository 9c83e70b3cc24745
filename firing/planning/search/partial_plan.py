"""Accepts part of a new plan: some pieces as it has them, the others as they were."""

from collections.abc import Iterable
from dataclasses import dataclass

from firing.planning.problem.problem import Problem
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import Solution
from firing.planning.proofs.check import CheckedPlan, checked_plan
from firing.planning.search.board import Board
from firing.planning.search.placing import PLAIN, Kept
from firing.planning.search.publish import kept_parts, to_plan


@dataclass(frozen=True, slots=True, kw_only=True)
class PartialPlan:
    """The result of accepting part of a plan.

    Attributes
    ----------
    plan : Solution
        The taken pieces as in the new plan, the others as they stood.
    taken : frozenset of str
        Those asked for and those that must come with them.
    left_over : tuple of str
        Pieces that can no longer stand as they did and were not asked for: they are in
        no plan until they are planned again.
    """

    plan: Solution
    verdict: CheckedPlan
    taken: frozenset[str]
    left_over: tuple[str, ...]


def take_part(
    problem: Problem, published: Solution, proposed: Solution, pieces: Iterable[str]
) -> PartialPlan:
    """Return a plan with some pieces' changes; the others stay where they are.

    A piece that these push out of its place comes with them.

    Parameters
    ----------
    problem : Problem
        As it is now.
    published, proposed : Solution
        What stands, and what was offered; ids mean the same in both.
    pieces : iterable of str
        Whose changes are asked for.

    Raises
    ------
    RuleBroken
        When the outcome breaks a rule, which insertion excludes.

    References
    ----------
    Insertion with everything kept, repeated with those that found no place.
    """
    facts = Facts(problem)
    known = set(facts.piece_number)
    stood, offered = kept_parts(facts, published), kept_parts(facts, proposed)
    stuck = _stuck(facts, stood)
    taken, refused = set(pieces) & known, set[str]()
    while True:
        board = Board(facts)
        lost = _put(board, offered, sorted(taken))
        if lost:
            # The offer no longer works for these: they stay as they were.
            refused |= set(lost)
            taken -= refused
            continue
        pushed = set(_put(board, stood, sorted(known - taken))) - stuck - refused
        movable = {name for name in pushed if _is_whole(facts, offered, name)}
        if not movable:
            break
        taken |= movable
    board.journal.clear()
    plan = to_plan(board)
    return PartialPlan(
        plan=plan,
        verdict=checked_plan(problem, plan),
        taken=frozenset(taken),
        left_over=tuple(sorted(set(plan.undelivered))),
    )


def _put(board: Board, kept: list[Kept], names: Iterable[str]) -> list[str]:
    """Insert pieces exactly where they were; return those that found no place."""
    lost = []
    for name in names:
        number = board.facts.piece_number[name]
        if not board.insert(number, PLAIN, kept[number]._replace(is_strict=True)):
            lost.append(name)
    return lost


def _stuck(facts: Facts, stood: list[Kept]) -> set[str]:
    """Return the pieces that cannot stay as they were even with nothing else moved."""
    return set(_put(Board(facts), stood, sorted(facts.piece_number)))


def _is_whole(facts: Facts, kept: list[Kept], name: str) -> bool:
    """Return whether an offer puts the piece in by itself."""
    number = facts.piece_number[name]
    return Board(facts).insert(number, PLAIN, kept[number]._replace(is_strict=True))
