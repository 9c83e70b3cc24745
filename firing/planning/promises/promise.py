"""The earliest honest day for a new piece, without moving anything; beside it the day
if promised work not yet begun moves, and a margin from this studio's own record.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from math import ceil

from firing.planning.problem.cannot import NoRoomUnmoved
from firing.planning.problem.cannot_words import CannotPlan
from firing.planning.problem.problem import PlannedPass, PlannedPiece, Problem
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import Solution
from firing.planning.promises.explain import Explanation, explain
from firing.planning.search.board import Board
from firing.planning.search.placing import FiringKey, Manner
from firing.planning.search.publish import placements_of
from studio.seeded_random import Dice

MANNERS = (
    Manner(),
    Manner(singles_first=True),
    Manner(is_roomy=True),
    Manner(singles_first=True, is_roomy=True),
)
DRAWS = 600
# More lost passes than this add nothing to a 95 % margin that anybody could keep.
MOST_LOST = 4
# Labour is tried in steps of a tenth.
RATIO_STEP = 0.1
MOST_STEPS = 10
# With fewer finished works than this the record says nothing about overruns.
LEAST_RATIOS = 5
MOST_NEIGHBOURS = 8
# Without a record one firing in twenty counts as lost, as if ten had been seen: a guess
# without source, which the studio's own record soon outweighs.
GUESSED_LOST, GUESSED_FIRED = 0.5, 10


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRecord:
    """What happened in this studio so far.

    Attributes
    ----------
    passes_fired, passes_lost : int
        Enamel passes, and those of them that had to be done again.
    fuses_fired, fuses_lost : int
        Fuses, and those after which the piece had to be made again.
    labour_ratios : tuple of float
        Hours taken over hours planned, per finished work.
    """

    passes_fired: int = 0
    passes_lost: int = 0
    fuses_fired: int = 0
    fuses_lost: int = 0
    labour_ratios: tuple[float, ...] = ()


class Guess(StrEnum):
    """Where the record is too thin."""

    LOSSES = "losses"
    OVERRUNS = "overruns"


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """Days that are kept with 80 % and 95 %, and what they were computed from.

    A day is None where the draw is past the horizon.
    """

    day_80: int | None
    day_95: int | None
    loss_share: float
    fuse_loss_share: float
    mean_labour_ratio: float
    guesses: frozenset[Guess]


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedPiece:
    """A piece that would make way, and its days of delivery."""

    piece: str
    day_before: int
    day_after: int
    due_day: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WithMoves:
    """The day if unstarted work moved, and whom that affects."""

    day: int
    days_gained: int
    moved: tuple[MovedPiece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """The answer for one piece; `day` is the bare best case, moving nothing.

    `enamel_kiln` is where most of its passes are burnt on, `fuse_kiln` where it is
    fused; empty where nothing of the kind is left to do.
    """

    day: int
    enamel_kiln: str
    fuse_kiln: str
    margin: Margin
    with_moves: WithMoves | None
    explanation: Explanation


def promise(
    problem: Problem,
    plan: Solution,
    piece: PlannedPiece,
    *,
    record: TrackRecord,
    seed: int,
    with_reliefs: bool = True,
    loss_seen_at: int = 0,
) -> Promise:
    """Find the earliest day for a piece in a published plan.

    Parameters
    ----------
    problem : Problem
        Of the published plan, without the piece.
    plan : Solution
        Valid for that problem.
    piece : PlannedPiece
        The new or changed piece; one of the same id in the problem is replaced.
    record : TrackRecord
        Of this studio.
    seed : int
        Of the draws for the margin.
    with_reliefs : bool
        Whether to look for changes that help.
    loss_seen_at : int
        Before this slot nobody knows that a pass is lost, so none is painted again:
        at best when the last enamel firing is unloaded. With 0 a loss is known from
        the start, which is too hopeful.

    Raises
    ------
    CannotPlan
        When the piece does not fit before the horizon.

    References
    ----------
    Earliest insertion; the margin is a simulation over the record.
    """
    others = tuple(one for one in problem.pieces if one.id != piece.id)
    ghosts = _ghosts(piece, record, loss_seen_at)
    variants = tuple(one for _, one in ghosts)
    facts = Facts(replace(problem, pieces=(*others, piece, *variants)))
    number = len(others)
    names = [piece.id, *(one.id for one in variants)]
    placements, spots = placements_of(facts, plan, without=names)
    board = Board(facts)
    board.load(placements, spots)
    manner = best_manner(board, number)
    if manner is None:
        raise CannotPlan(NoRoomUnmoved(piece=piece.id, horizon=problem.horizon))
    days = {
        case: _day_of(board, number + 1 + at, manner)
        for at, (case, _) in enumerate(ghosts)
    }
    moves = with_moves(board, number, manner)
    board.insert(number, manner)
    placed = board.placed[number]
    if placed is None:
        raise AssertionError("What was put in a moment ago goes in again.")
    days[0, 0] = placed.day
    # The piece made again begins when the first one came out of the kiln, lost.
    lost_at = placed.fuse.end if placed.fuse is not None else 0
    once_more = replace(manner, not_before=lost_at)
    again = _day_of(board, number + len(ghosts), once_more)
    return Promise(
        day=placed.day,
        enamel_kiln=_most_used(placed.firings, facts),
        fuse_kiln="" if placed.fuse is None else facts.kilns[placed.fuse.kiln].id,
        margin=_margin(piece, record, days, again, Dice(seed)),
        with_moves=moves,
        explanation=explain(board, number, with_reliefs=with_reliefs, manner=manner),
    )


def _most_used(firings: Sequence[FiringKey], facts: Facts) -> str:
    used = Counter(key.kiln for key in firings)
    return facts.kilns[used.most_common(1)[0][0]].id if used else ""


def best_manner(board: Board, number: int) -> Manner | None:
    """Return the manner that delivers a piece first; None if none does.

    Parameters
    ----------
    board : Board
        Left as it was.
    number : int
        Of a piece that is not placed.

    References
    ----------
    Earliest insertion, a few variants.
    """
    best = None
    for manner in MANNERS:
        day = _day_of(board, number, manner)
        if day is not None and (best is None or day < best[0]):
            best = (day, manner)
    return None if best is None else best[1]


def _day_of(board: Board, number: int, manner: Manner) -> int | None:
    mark = len(board.journal)
    if not board.insert(number, manner):
        return None
    placed = board.placed[number]
    board.rollback(mark)
    return None if placed is None else placed.day


# --- what moving others would give --------------------------------------------------


def with_moves(board: Board, number: int, manner: Manner) -> WithMoves | None:
    """Return the best day if one or two unstarted pieces make way; None if no gain.

    A piece makes way only if it is still ready by its due day, or no later than now.

    Parameters
    ----------
    board : Board
        Left as it was; all that stands on it is unstarted.
    number : int
        Of a piece that is not placed.
    manner : Manner
        How it goes in without moves.

    References
    ----------
    Put the new piece in first, then those that made way.
    """
    plain = _day_of(board, number, manner)
    if plain is None:
        return None
    best: WithMoves | None = None
    neighbours = _in_the_way(board, number, plain)
    sets: list[tuple[int, ...]] = [(one,) for one in neighbours]
    sets += [
        (one, two)
        for at, one in enumerate(neighbours[:4])
        for two in neighbours[at + 1 : 4]
    ]
    for chosen in sets:
        found = _swap(board, number, chosen, manner, plain)
        if found is not None and (best is None or found.day < best.day):
            best = found
    return best


def _in_the_way(board: Board, number: int, day: int) -> list[int]:
    """Return pieces of the same artist and those due late, nearest in time first."""
    artist = board.facts.pieces[number].artist
    rows = []
    for other, placed in enumerate(board.placed):
        if placed is None or other == number:
            continue
        is_same = board.facts.pieces[other].artist == artist
        rows.append((not is_same, abs(placed.day - day), other))
    return [other for _, _, other in sorted(rows)[:MOST_NEIGHBOURS]]


def _swap(
    board: Board, number: int, chosen: tuple[int, ...], manner: Manner, plain: int
) -> WithMoves | None:
    mark = len(board.journal)
    before = {}
    for other in chosen:
        placed = board.placed[other]
        if placed is not None:
            before[other] = placed.day
            board.remove(other)
    result = None
    if board.insert(number, manner):
        own = board.placed[number]
        moved = []
        for other in sorted(before, key=before.__getitem__):
            board.insert(other)
            placed = board.placed[other]
            piece = board.facts.pieces[other].piece
            latest = before[other]
            if piece.due_day is not None:
                latest = max(latest, piece.due_day)
            if placed is None or placed.day > latest:
                break
            moved.append(
                MovedPiece(
                    piece=piece.id,
                    day_before=before[other],
                    day_after=placed.day,
                    due_day=piece.due_day,
                )
            )
        if own is not None and own.day < plain and len(moved) == len(before):
            result = WithMoves(
                day=own.day, days_gained=plain - own.day, moved=tuple(moved)
            )
    board.rollback(mark)
    return result


# --- the margin ----------------------------------------------------------------------

Case = tuple[int, int]


def _ghosts(
    piece: PlannedPiece, record: TrackRecord, loss_seen_at: int
) -> list[tuple[Case, PlannedPiece]]:
    """Return variants of the piece: lost passes, labour in steps of a tenth more.

    The last one is the piece made again, which follows the first.
    """
    steps = MOST_STEPS if len(record.labour_ratios) >= LEAST_RATIOS else 0
    found = []
    for lost in range(MOST_LOST + 1):
        for step in range(steps + 1):
            if (lost, step) == (0, 0) or step % 2:
                continue
            variant = _varied(piece, lost, step, loss_seen_at)
            found.append(((lost, step), variant))
    again = replace(piece, id=f"{piece.id} again")
    found.append(((-1, 0), again))
    return found


def _varied(
    piece: PlannedPiece, lost: int, step: int, loss_seen_at: int
) -> PlannedPiece:
    ratio = 1 + step * RATIO_STEP

    def longer(labour: int) -> int:
        return ceil(labour * ratio - 1e-9)

    layers = [
        tuple(replace(one, labour=longer(one.labour)) for one in layer)
        for layer in piece.layers
    ]
    painted = sorted(
        (n for n, layer in enumerate(layers) if layer),
        key=lambda n: (-len(layers[n]), n),
    )
    for count in range(lost if painted else 0):
        at = painted[count % len(painted)]
        last = piece.layers[at][-1]
        layers[at] = (
            *layers[at],
            PlannedPass(
                kind=last.kind,
                labour=max(1, longer(last.labour)),
                not_before=loss_seen_at,
            ),
        )
    return replace(
        piece,
        id=f"{piece.id} lost {lost} longer {step}",
        layers=tuple(layers),
        assembly=longer(piece.assembly),
        coldwork=longer(piece.coldwork),
    )


def _margin(
    piece: PlannedPiece,
    record: TrackRecord,
    days: dict[Case, int | None],
    again: int | None,
    dice: Dice,
) -> Margin:
    passes = sum(len(layer) for layer in piece.layers)
    loss = (record.passes_lost + GUESSED_LOST) / (record.passes_fired + GUESSED_FIRED)
    fuse_loss = (record.fuses_lost + GUESSED_LOST) / (
        record.fuses_fired + GUESSED_FIRED
    )
    ratios = record.labour_ratios
    has_ratios = len(ratios) >= LEAST_RATIOS
    drawn: list[int | None] = []
    for _ in range(DRAWS):
        lost = sum(dice.unit() < loss for _ in range(passes))
        mean = 1.0
        if has_ratios:
            count = min(len(ratios), 8)
            mean = sum(dice.pick(ratios) for _ in range(count)) / count
        step = min(MOST_STEPS, max(0, ceil((mean - 1) / RATIO_STEP - 1e-9)))
        day = days.get((min(lost, MOST_LOST), step + step % 2))
        if piece.fuse is not None and dice.unit() < fuse_loss:
            day = again if day is None or again is None else max(day, again)
        drawn.append(day)
    in_order = sorted(drawn, key=lambda day: (day is None, day or 0))
    guesses = set()
    if record.passes_fired + record.fuses_fired < LEAST_RATIOS:
        guesses.add(Guess.LOSSES)
    if not has_ratios:
        guesses.add(Guess.OVERRUNS)
    return Margin(
        day_80=in_order[ceil(DRAWS * 0.80) - 1],
        day_95=in_order[ceil(DRAWS * 0.95) - 1],
        loss_share=loss,
        fuse_loss_share=fuse_loss,
        mean_labour_ratio=sum(ratios) / len(ratios) if ratios else 1.0,
        guesses=frozenset(guesses),
    )
