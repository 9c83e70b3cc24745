"""The first plan: pieces one after another, each as early as possible.

It always has an answer, at once. Pieces that find no place before the horizon are left
out and named. `improve` makes the plan better.
"""

from collections.abc import Callable, Sequence

from firing.planning.problem.problem import SLOTS_PER_DAY
from firing.planning.problem.problem_tables import Facts, PieceFacts
from firing.planning.search.board import Board
from firing.planning.search.placing import PLAIN, Manner

# Later than any due day: pieces without one come last.
NO_DUE_DAY = 1 << 30


def by_due_day(piece: PieceFacts) -> tuple[float, ...]:
    """Order pieces by the day on which they are due, the weightier first.

    Parameters
    ----------
    piece : PieceFacts
        With due day and weight.

    References
    ----------
    Earliest due date, J. R. Jackson (1955, from memory).
    """
    due = piece.piece.due_day
    return (NO_DUE_DAY if due is None else due, -piece.piece.weight)


def by_last_start(piece: PieceFacts) -> tuple[float, ...]:
    """Order pieces by the latest day on which their work can begin.

    Parameters
    ----------
    piece : PieceFacts
        With due day, labour and the run of its fuse.

    References
    ----------
    Least slack first: common practice in workshops, no source.
    """
    one = piece.piece
    labour = sum(p.labour for p in piece.passes) + one.assembly + one.coldwork
    # A day of work holds about a third of its slots.
    days = labour * 3 / SLOTS_PER_DAY + one.ship_days
    days += one.fuse.run / SLOTS_PER_DAY if one.fuse else 0
    due = NO_DUE_DAY if one.due_day is None else one.due_day
    return (due - days, -one.weight)


def by_weighted_due_day(piece: PieceFacts) -> tuple[float, ...]:
    """Order pieces by due day, brought forward for weighty ones with little labour.

    Parameters
    ----------
    piece : PieceFacts
        With due day, weight and labour.

    References
    ----------
    After apparent tardiness cost (Vepsalainen and Morton 1987, from memory), the
    constants are ours.
    """
    one = piece.piece
    labour = 1 + sum(p.labour for p in piece.passes) + one.assembly
    due = NO_DUE_DAY if one.due_day is None else one.due_day
    return (due - 300 * one.weight / labour, -one.weight)


Rule = Callable[[PieceFacts], tuple[float, ...]]
ROOMY, WAITING = Manner(is_roomy=True), Manner(patience=2)
# The most promising ones first, measured on the kiln instances.
WAYS: tuple[tuple[Rule, Manner], ...] = (
    (by_due_day, PLAIN),
    (by_weighted_due_day, ROOMY),
    (by_weighted_due_day, PLAIN),
    (by_weighted_due_day, WAITING),
    (by_due_day, ROOMY),
    (by_due_day, WAITING),
    (by_last_start, ROOMY),
    (by_last_start, PLAIN),
    (by_last_start, WAITING),
)


def place_all(board: Board, order: Sequence[int], manner: Manner) -> None:
    """Put pieces in, in this order; those without room are left out.

    Parameters
    ----------
    board : Board
        Changed in place.
    order : sequence of int
        Numbers of pieces.
    manner : Manner
        How each is put in.

    References
    ----------
    Serial schedule generation (R. Kolisch 1996, from memory).
    """
    for number in order:
        board.insert(number, manner)


def first_plan(facts: Facts) -> Board:
    """Return the list plan: by due day, each piece joining open firings.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.

    References
    ----------
    As `place_all`.
    """
    board = Board(facts)
    place_all(board, ordered(facts, by_due_day), PLAIN)
    board.journal.clear()
    return board


def best_first_plan(facts: Facts, *, tries: int) -> Board:
    """Return the best of several list plans: rules of order, each in several manners.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    tries : int
        How many to make, at least one.

    References
    ----------
    As `place_all`.
    """
    best = first_plan(facts)
    for rule, manner in WAYS[1:tries]:
        board = Board(facts)
        place_all(board, ordered(facts, rule), manner)
        board.journal.clear()
        if board.score < best.score:
            best = board
    return best


def ordered(facts: Facts, rule: Callable[[PieceFacts], tuple[float, ...]]) -> list[int]:
    """Return the numbers of all pieces in the order of a rule, ties by id.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    rule : callable
        What a piece is sorted by.

    References
    ----------
    Arithmetic.
    """
    pieces = facts.pieces
    return sorted(
        range(len(pieces)), key=lambda n: (*rule(pieces[n]), pieces[n].piece.id)
    )
