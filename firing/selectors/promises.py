"""The earliest honest date for work that does not exist yet, moving nothing, with a
margin from this studio's own record and the reasons in words.

Plain numbers come in; which commission they are of is not known here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from firing.models import Plan as PlanRow
from firing.planning.board import PLAIN, Board
from firing.planning.construct import by_due_day, ordered, place_all
from firing.planning.facts import Facts
from firing.planning.feasible import check_feasible
from firing.planning.problem import PlannedPiece, PlanProblem, Problem
from firing.planning.promise import Promise, Record, best_manner, promise
from firing.planning.publish import placements_of, to_plan
from firing.planning.replan import keep_what_can_stay
from firing.planning.solution import Plan
from firing.selectors.bench_times import BenchTimes
from firing.selectors.plan_problem import (
    StudioProblem,
    WorkSpec,
    new_piece,
    plan_problem,
)
from firing.selectors.plan_record import published_plan
from firing.selectors.planned import standing_plan
from firing.selectors.promise_words import (
    Reason,
    margin_words,
    moves_words,
    reasons_of,
    relief_words,
)
from firing.selectors.studio_record import studio_record
from studio.errors import Refused
from studio.models import Studio
from studio.reader import Reader

# Half a year first; what finds no room there is looked for in a year and a half.
WEEKS_TRIED = (26, 78)
# Of the draws behind the margin: the same facts give the same dates.
SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class StudioPromise:
    """When work can be ready, and why not sooner; every text is for the reader.

    Attributes
    ----------
    ready_date : date
        With nothing lost and nothing late, so not one to promise.
    date_80, date_95 : date or None
        Kept in 80 and 95 of 100; none where that lies beyond what was looked at.
    """

    ready_date: date
    date_80: date | None
    date_95: date | None
    artist: str
    maquette_date: date | None
    reasons: tuple[Reason, ...]
    relief: str
    moves: str
    margin: tuple[str, ...]
    assumptions: tuple[str, ...]
    left_out: tuple[str, ...]


def promise_for(
    *,
    studio: Studio,
    spec: WorkSpec,
    maquette: WorkSpec | None,
    bench: BenchTimes,
    due_dates: Mapping[int, date],
    now: datetime,
) -> StudioPromise:
    """Return the earliest honest date for a piece, and its maquette before it.

    Parameters
    ----------
    bench : BenchTimes
        Of the pieces in work.
    due_dates : mapping
        What is promised already, by the pieces' keys.

    Raises
    ------
    Refused
        When it cannot be done: says which rule, and which facts.
    """
    record = studio_record(
        studio, painting_minutes_per_pass=bench.painting_minutes_per_pass
    )
    standing = standing_plan(studio)
    for weeks in WEEKS_TRIED:
        source = plan_problem(
            studio=studio,
            now=now,
            weeks=weeks,
            bench=bench,
            due_dates=due_dates,
            glasses=[spec.glass, *([maquette.glass] if maquette else [])],
        )
        _refuse_impossible(source)
        found = _promised(source, spec, maquette, record, standing)
        if found is not None:
            return found
    raise Refused(
        f"It does not fit into the next {WEEKS_TRIED[-1]} weeks with nothing moved. "
        "Look for kiln time that is held and not needed, or for more hours."
    )


def _refuse_impossible(source: StudioProblem) -> None:
    if not source.artists:
        raise Refused(
            "Nobody here paints and stacks: no owner or maker of this studio is active."
        )
    if not source.calendar.access:
        raise Refused(
            "Nobody is ever in to load a kiln: the studio is closed for all of the "
            f"next {source.calendar.weeks} weeks."
        )


def _promised(
    source: StudioProblem,
    spec: WorkSpec,
    maquette: WorkSpec | None,
    record: Record,
    standing: PlanRow | None,
) -> StudioPromise | None:
    """Return the promise within the horizon of the source, none if it has no room."""
    start = source.calendar.start
    name = _new_name(source, spec.title)
    variants = [
        new_piece(source, spec, name=f"{name} / {who}", artist=who, release=start)
        for who in source.artists
    ]
    _refuse_infeasible(source, variants[0])
    first = variants
    if maquette is not None:
        first = [
            new_piece(
                source, maquette, name=f"{name} / {who}", artist=who, release=start
            )
            for who in source.artists
        ]
        _refuse_infeasible(source, first[0])
    ground = _Ground(source, first, standing)
    chosen = ground.soonest()
    if chosen is None:
        return None
    problem, plan = source.problem, ground.plan()
    release, maquette_date = start, None
    if maquette is not None:
        small = replace(chosen.piece, id=_new_name(source, f"Maquette of {name}"))
        problem = replace(problem, pieces=(*problem.pieces, small))
        plan = ground.plan_with(chosen, small.id)
        release = chosen.out_of_kiln
        maquette_date = source.calendar.date_of(chosen.day)
    piece = new_piece(
        source, spec, name=name, artist=chosen.piece.artist, release=release
    )
    try:
        answer = promise(
            problem,
            plan,
            piece,
            record=record,
            seed=SEED,
            loss_seen_at=_last_burnt(problem, plan, piece),
        )
    except PlanProblem as refusal:
        if refusal.key == "horizon":
            return None
        raise
    return _in_words(source, ground, piece, answer, record, maquette_date)


def _last_burnt(problem: Problem, plan: Plan, piece: PlannedPiece) -> int:
    """Return when the last enamel firing of a new piece would be unloaded, else 0."""
    facts = Facts(replace(problem, pieces=(*problem.pieces, piece)))
    board = Board(facts)
    board.load(*placements_of(facts, plan, without=[piece.id]))
    number = facts.piece_number[piece.id]
    manner = best_manner(board, number)
    if manner is None or not board.insert(number, manner):
        return 0
    placed = board.placed[number]
    keys = placed.firings if placed is not None else ()
    return max((facts.night_ends[key.kind][key.night] for key in keys), default=0)


def _new_name(source: StudioProblem, title: str) -> str:
    """Return a title that no piece of the problem has."""
    taken = set(source.piece_pks)
    while title in taken:
        title += " (new)"
    return title


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chosen:
    """Who is soonest with the first new stack, and how it then lies."""

    number: int
    piece: PlannedPiece
    day: int
    out_of_kiln: int


class _Ground:
    """The open pieces on a board, as they would go without anything new.

    Where a plan stands they are where that plan has them.
    """

    def __init__(
        self,
        source: StudioProblem,
        variants: list[PlannedPiece],
        standing: PlanRow | None,
    ) -> None:
        old = source.problem.pieces
        self.count = len(old)
        facts = Facts(replace(source.problem, pieces=(*old, *variants)))
        order = [n for n in ordered(facts, by_due_day) if n < self.count]
        if standing is None:
            self.board = Board(facts)
            place_all(self.board, order, PLAIN)
        else:
            published = published_plan(source, standing)
            self.board = keep_what_can_stay(facts, published, count=self.count)
        self.late = tuple(old[n].id for n in order if self.board.placed[n] is None)

    def soonest(self) -> _Chosen | None:
        """Return the variant that is ready first; nothing stays on the board."""
        best: _Chosen | None = None
        facts = self.board.facts
        for number in range(self.count, len(facts.pieces)):
            manner = best_manner(self.board, number)
            if manner is None:
                continue
            mark = len(self.board.journal)
            self.board.insert(number, manner)
            placed = self.board.placed[number]
            if placed is not None and placed.fuse is not None:
                day, end = placed.day, placed.fuse.end
                if best is None or day < best.day:
                    best = _Chosen(
                        number=number,
                        piece=facts.pieces[number].piece,
                        day=day,
                        out_of_kiln=end,
                    )
            self.board.rollback(mark)
        return best

    def plan(self) -> Plan:
        """Return the plan of the open pieces alone."""
        return replace(to_plan(self.board), undelivered=())

    def plan_with(self, chosen: _Chosen, name: str) -> Plan:
        """Return the plan with the chosen stack in it, under its own name."""
        mark = len(self.board.journal)
        manner = best_manner(self.board, chosen.number)
        self.board.insert(chosen.number, manner or PLAIN)
        plan = _renamed(self.plan(), chosen.piece.id, name)
        self.board.rollback(mark)
        return plan


def _renamed(plan: Plan, old: str, new: str) -> Plan:
    return Plan(
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


def _refuse_infeasible(source: StudioProblem, piece: PlannedPiece) -> None:
    """Refuse what no later start would help, in the trade's words.

    Raises
    ------
    Refused
        With the rule and the facts.
    """
    alone: Problem = replace(source.problem, pieces=(piece,))
    try:
        check_feasible(alone)
    except PlanProblem as refusal:
        if refusal.key == "horizon" or refusal.key.endswith((".layers", ".fuse_run")):
            return  # A longer look ahead may do; without, that is said at the end.
        told = str(refusal).removeprefix(f"{refusal.key}: ")
        door = {"load": "Loading: ", "unload": "Unloading: "}
        what = door.get(refusal.key.rpartition(".")[2].removeprefix("fuse_"), "")
        raise Refused(f"{what}{told}") from refusal


def _in_words(
    source: StudioProblem,
    ground: _Ground,
    piece: PlannedPiece,
    answer: Promise,
    record: Record,
    maquette_date: date | None,
) -> StudioPromise:
    calendar = source.calendar
    reader: Reader = source.workshop.reader
    margin = answer.margin

    def day(number: int | None) -> date | None:
        return None if number is None else calendar.date_of(number)

    late = [
        f"{name} finds no room in the next {calendar.weeks} weeks and is not reckoned "
        "with."
        for name in ground.late
    ]
    return StudioPromise(
        ready_date=calendar.date_of(answer.day),
        date_80=day(margin.day_80),
        date_95=day(margin.day_95),
        artist=piece.artist,
        maquette_date=maquette_date,
        reasons=tuple(reasons_of(answer.explanation.steps, calendar, reader)),
        relief=relief_words(answer.explanation.reliefs, piece.artist, calendar),
        moves=moves_words(answer.with_moves, piece.id, calendar),
        margin=margin_words(margin, record, calendar),
        assumptions=(*source.known, *source.assumptions),
        left_out=(*source.left_out, *late),
    )
