"""What is on the planner's board before new work goes in: open pieces as the standing
plan has them, then the work that room is held for by open quotes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from firing.models import Plan
from firing.planning.problem.problem import PlannedPiece
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import Solution
from firing.planning.promises.promise import best_manner
from firing.planning.search.board import Board
from firing.planning.search.construct import by_due_day, ordered, place_all
from firing.planning.search.placing import PLAIN, Placed
from firing.planning.search.publish import to_plan
from firing.planning.search.replan import keep_what_can_stay
from firing.plans.selectors.ids import person_id
from firing.plans.selectors.problem import StudioProblem, WorkSpec, new_piece
from firing.plans.selectors.record import published_plan
from studio.errors import Refused


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldWork:
    """Work of an open quote; room is held for it as long as the quote is open.

    Attributes
    ----------
    maker : int or None
        Key of the person who would make it.
    due_date : date
        The promised day.
    until_date : date
        The last day on which the client may accept.
    """

    title: str
    spec: WorkSpec
    maquette: WorkSpec | None
    maker: int | None
    due_date: date
    until_date: date


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldPieces:
    """Held work as pieces of the problem, in the order of the promised days.

    `called` is the reader's name for each.
    """

    pieces: tuple[PlannedPiece, ...]
    works: tuple[HeldWork, ...]
    left_out: tuple[str, ...]
    called: Mapping[str, str]


def held_pieces(
    source: StudioProblem, held: Sequence[HeldWork], standing: Plan | None
) -> HeldPieces:
    """Return the pieces of open quotes; a maquette comes out of the kiln first.

    Anything that cannot be made is left out and named.
    """
    rows: list[tuple[HeldWork, PlannedPiece, PlannedPiece | None]] = []
    left_out = []
    called: dict[str, str] = {}
    taken = titles_of(source)
    for number, work in enumerate(sorted(held, key=lambda one: one.due_date)):
        key, small_key = f"held:{number}", f"held:{number}:maquette"
        title = fresh_title(f"{work.title} (open quote)", taken)
        called[key] = title
        artist = artist_of(source, work.maker) or source.artists[0]
        due = source.calendar.day_of(work.due_date)
        try:
            small = None
            if work.maquette is not None:
                called[small_key] = fresh_title(f"Maquette of {title}", taken)
                small = new_piece(
                    source,
                    work.maquette,
                    key=small_key,
                    artist=artist,
                    release=source.calendar.start,
                )
            whole = new_piece(
                source,
                work.spec,
                key=key,
                artist=artist,
                release=source.calendar.start,
            )
        except Refused as problem:
            left_out.append(f"{work.title} is quoted and held no room for. {problem}")
            continue
        rows.append((work, replace(whole, due_day=due, weight=1), small))
    return HeldPieces(
        pieces=tuple(_released(source, rows, standing)),
        works=tuple(work for work, _, _ in rows),
        left_out=tuple(left_out),
        called=called,
    )


def _released(
    source: StudioProblem,
    rows: Sequence[tuple[HeldWork, PlannedPiece, PlannedPiece | None]],
    standing: Plan | None,
) -> list[PlannedPiece]:
    """Return the pieces after their maquettes, released when those are out."""
    if not any(small is not None for _, _, small in rows):
        return [whole for _, whole, _ in rows]
    small_ones = [small for _, _, small in rows if small is not None]
    trial = Ground(source, tuple(small_ones), [], standing)
    found = []
    for _, whole, small in rows:
        if small is None:
            found.append(whole)
            continue
        placed = trial.placed(small.id)
        out = placed.fuse.end if placed is not None and placed.fuse is not None else 0
        found += [small, replace(whole, release=max(whole.release, out))]
    return found


def artist_of(source: StudioProblem, person: int | None) -> str | None:
    """Return the id of a person who paints and stacks in the problem, or none."""
    if person is None or person_id(person) not in source.artists:
        return None
    return person_id(person)


def titles_of(source: StudioProblem) -> set[str]:
    """Return what the open pieces of the problem are called."""
    return {source.call(one) for one in source.piece_pks}


def fresh_title(title: str, taken: set[str]) -> str:
    """Return a title that nothing else has, and remember it."""
    while title in taken:
        title += " (new)"
    taken.add(title)
    return title


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The person who is soonest with the first new stack, and where it goes."""

    number: int
    piece: PlannedPiece
    day: int
    out_of_kiln: int


class Ground:
    """The open pieces on a board, as they would go without anything new.

    If a plan stands, they are where it has them. Held work comes after all of them, so
    it never takes anything from accepted work.
    """

    def __init__(
        self,
        source: StudioProblem,
        held: Sequence[PlannedPiece],
        variants: Sequence[PlannedPiece],
        standing: Plan | None,
    ) -> None:
        old = source.problem.pieces
        self.pieces = (*old, *held)
        self.count = len(self.pieces)
        facts = Facts(replace(source.problem, pieces=(*self.pieces, *variants)))
        order = [n for n in ordered(facts, by_due_day) if n < len(old)]
        self.planned: frozenset[str] = frozenset()
        if standing is None:
            self.board = Board(facts)
            place_all(self.board, order, PLAIN)
        else:
            published = published_plan(source, standing)
            self.planned = frozenset(one.piece for one in published.work)
            self.board = keep_what_can_stay(facts, published, count=len(old))
        place_all(self.board, range(len(old), self.count), PLAIN)
        self.late = tuple(
            one.id
            for number, one in enumerate(self.pieces)
            if self.board.placed[number] is None
        )

    def placed(self, piece: str) -> Placed | None:
        """Return where a piece is; none if it has no room or is not open."""
        number = self.board.facts.piece_number.get(piece)
        return None if number is None else self.board.placed[number]

    def soonest(self) -> Chosen | None:
        """Return the variant that is ready first; the board is left as it was."""
        best: Chosen | None = None
        facts = self.board.facts
        for number in range(self.count, len(facts.pieces)):
            manner = best_manner(self.board, number)
            if manner is None:
                continue
            mark = len(self.board.journal)
            self.board.insert(number, manner)
            placed = self.board.placed[number]
            if placed is not None:
                day, end = placed.day, 0
                if placed.fuse is not None:
                    end = placed.fuse.end
                if best is None or day < best.day:
                    best = Chosen(
                        number=number,
                        piece=facts.pieces[number].piece,
                        day=day,
                        out_of_kiln=end,
                    )
            self.board.rollback(mark)
        return best

    def plan(self) -> Solution:
        """Return the plan of the open pieces and the held work."""
        return replace(to_plan(self.board), undelivered=())

    def plan_with(self, chosen: Chosen, key: str) -> Solution:
        """Return the plan with the chosen stack in it, under its own id."""
        mark = len(self.board.journal)
        manner = best_manner(self.board, chosen.number)
        self.board.insert(chosen.number, manner or PLAIN)
        plan = _renamed(self.plan(), chosen.piece.id, key)
        self.board.rollback(mark)
        return plan


def _renamed(plan: Solution, old: str, new: str) -> Solution:
    return Solution(
        firings=tuple(
            replace(
                firing,
                items=tuple(
                    replace(item, piece=new) if item.piece == old else item
                    for item in firing.items
                ),
            )
            for firing in plan.firings
        ),
        fuses=tuple(
            replace(one, piece=new) if one.piece == old else one for one in plan.fuses
        ),
        work=tuple(
            replace(one, piece=new) if one.piece == old else one for one in plan.work
        ),
        delivery={new if k == old else k: day for k, day in plan.delivery.items()},
        undelivered=plan.undelivered,
    )
