"""The earliest honest date for work that does not exist yet, moving nothing, with a
margin from this studio's own record and the reasons in words.

Plain numbers come in; which commission they are of is not known here.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from firing.loads.selectors.planned import standing_plan
from firing.planning.problem.problem import PlannedPiece, PlanProblem, Problem
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import Plan
from firing.planning.promises.promise import Promise, Record, best_manner, promise
from firing.planning.search.board import Board
from firing.planning.search.feasible import check_feasible, free_slots, hours
from firing.planning.search.publish import placements_of
from firing.plans.selectors.bench_times import BenchTimes
from firing.plans.selectors.problem import (
    StudioProblem,
    WorkSpec,
    new_piece,
    plan_problem,
)
from firing.promises.selectors.reserved_work import (
    Ground,
    HeldPieces,
    HeldWork,
    artist_of,
    fresh_name,
    held_pieces,
)
from firing.promises.selectors.studio_record import studio_record
from firing.promises.selectors.words import (
    Reason,
    held_words,
    margin_words,
    moves_words,
    reasons_of,
    relief_words,
)
from studio.errors import Refused
from studio.models import Glass, Studio
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
    held : str
        Which open quotes are held room for, and until when; empty without any.
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
    held: str


def promise_for(
    *,
    studio: Studio,
    spec: WorkSpec,
    maquette: WorkSpec | None,
    bench: BenchTimes,
    due_dates: Mapping[int, date],
    now: datetime,
    maker: int | None = None,
    held: Sequence[HeldWork] = (),
) -> StudioPromise:
    """Return the earliest honest date for a piece, and its maquette before it.

    Parameters
    ----------
    bench : BenchTimes
        Of the pieces in work.
    due_dates : mapping
        What is promised already, by the pieces' keys.
    maker : int or None
        Key of the person who will make it; whoever is soonest where none is named, or
        where that person does not paint and stack.
    held : sequence of HeldWork
        Open quotes that are held room for.

    Raises
    ------
    Refused
        When it cannot be done: says which rule, and which facts.
    """
    glasses = [spec.glass, *([maquette.glass] if maquette else [])]

    def look(source: StudioProblem, record: Record) -> StudioPromise | None:
        return _promised(source, spec, maquette, record, maker, held)

    return _looked_ahead(
        look,
        studio=studio,
        bench=bench,
        due_dates=due_dates,
        now=now,
        glasses=[*glasses, *_glasses(held)],
    )


def promise_again(
    *,
    studio: Studio,
    piece: int,
    maquette: int | None,
    bench: BenchTimes,
    due_dates: Mapping[int, date],
    now: datetime,
    held: Sequence[HeldWork] = (),
) -> StudioPromise:
    """Return when an open piece can be ready, as it stands now.

    Parameters
    ----------
    piece, maquette : int
        Keys; a maquette that is still open comes out of the kiln first.

    Raises
    ------
    Refused
        When it cannot be done, or nothing is left to do: says which rule, which facts.
    """

    def look(source: StudioProblem, record: Record) -> StudioPromise | None:
        return _promised_again(source, piece, maquette, record, held)

    return _looked_ahead(
        look,
        studio=studio,
        bench=bench,
        due_dates=due_dates,
        now=now,
        glasses=_glasses(held),
    )


def _glasses(held: Sequence[HeldWork]) -> list[Glass]:
    return [
        spec.glass
        for one in held
        for spec in (one.spec, one.maquette)
        if spec is not None
    ]


Look = Callable[[StudioProblem, Record], StudioPromise | None]


def _looked_ahead(
    look: Look,
    *,
    studio: Studio,
    bench: BenchTimes,
    due_dates: Mapping[int, date],
    now: datetime,
    glasses: Sequence[Glass],
) -> StudioPromise:
    record = studio_record(
        studio, painting_minutes_per_pass=bench.painting_minutes_per_pass
    )
    for weeks in WEEKS_TRIED:
        source = plan_problem(
            studio=studio,
            now=now,
            weeks=weeks,
            bench=bench,
            due_dates=due_dates,
            glasses=glasses,
        )
        _refuse_impossible(source)
        found = look(source, record)
        if found is not None:
            return found
    raise Refused(
        f"It does not fit into the next {WEEKS_TRIED[-1]} weeks with nothing moved. "
        "Look for kiln time that is held and not needed, or for more hours."
    )


def _refuse_impossible(source: StudioProblem) -> None:
    if not source.artists:
        raise Refused(
            "Nobody here both paints and stacks: look at the people's parts and skills "
            "in the settings."
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
    maker: int | None,
    held: Sequence[HeldWork],
) -> StudioPromise | None:
    """Return the promise within the horizon of the source, none if it has no room."""
    start = source.calendar.start
    standing = standing_plan(source.studio)
    taken = set(source.piece_pks)
    name = fresh_name(spec.title, taken)
    named = artist_of(source, maker)
    able = [named] if named is not None else list(source.artists)
    able = _with_time(source, able, spec)
    variants = [
        new_piece(source, spec, name=f"{name} / {who}", artist=who, release=start)
        for who in able
    ]
    _refuse_infeasible(source, variants[0])
    first = variants
    if maquette is not None:
        first = [
            new_piece(
                source, maquette, name=f"{name} / {who}", artist=who, release=start
            )
            for who in able
        ]
        _refuse_infeasible(source, first[0])
    kept = held_pieces(source, held, standing)
    ground = Ground(source, kept.pieces, first, standing)
    chosen = ground.soonest()
    if chosen is None:
        return None
    problem = replace(source.problem, pieces=ground.pieces)
    plan = ground.plan()
    release, maquette_date = start, None
    if maquette is not None:
        taken |= {one.id for one in ground.pieces}
        small = replace(chosen.piece, id=fresh_name(f"Maquette of {name}", taken))
        problem = replace(problem, pieces=(*problem.pieces, small))
        plan = ground.plan_with(chosen, small.id)
        release = chosen.out_of_kiln
        maquette_date = source.calendar.date_of(chosen.day)
    piece = new_piece(
        source, spec, name=name, artist=chosen.piece.artist, release=release
    )
    answer = _answer(problem, plan, piece, record)
    if answer is None:
        return None
    return _in_words(source, ground, kept, piece, answer, record, maquette_date)


def _promised_again(
    source: StudioProblem,
    piece: int,
    maquette: int | None,
    record: Record,
    held: Sequence[HeldWork],
) -> StudioPromise | None:
    """Return the promise of a piece that is open already; the rest stays as it is.

    Where a plan stands that has the piece, it comes no sooner than planned there.
    """
    name_of = {pk: name for name, pk in source.piece_pks.items()}
    open_now = {one.id: one for one in source.problem.pieces}
    own = open_now.get(name_of.get(piece, ""))
    if own is None:
        told = " ".join(source.left_out)
        raise Refused(f"It cannot be planned as it stands. {told}".strip())
    _refuse_infeasible(source, own)
    standing = standing_plan(source.studio)
    kept = held_pieces(source, held, standing)
    ground = Ground(source, kept.pieces, [], standing)
    placed = ground.placed(own.id)
    if placed is None:
        return None
    maquette_date = None
    small = name_of.get(maquette, "") if maquette is not None else ""
    first = ground.placed(small)
    if first is not None:
        maquette_date = source.calendar.date_of(first.day)
        out = first.fuse.end if first.fuse is not None else 0
        own = replace(own, release=max(own.release, out))
    problem = replace(source.problem, pieces=ground.pieces)
    answer = _answer(problem, ground.plan(), own, record)
    if answer is None:
        return None
    later = placed.day - answer.day if own.id in ground.planned else 0
    answer = _put_off(answer, max(0, later))
    return _in_words(source, ground, kept, own, answer, record, maquette_date)


def _put_off(answer: Promise, days: int) -> Promise:
    """Return a promise so many days later, its margin with it."""
    margin = answer.margin

    def later(day: int | None) -> int | None:
        return None if day is None else day + days

    return replace(
        answer,
        day=answer.day + days,
        margin=replace(
            margin, day_80=later(margin.day_80), day_95=later(margin.day_95)
        ),
    )


def _answer(
    problem: Problem, plan: Plan, piece: PlannedPiece, record: Record
) -> Promise | None:
    try:
        return promise(
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


def _with_time(source: StudioProblem, able: Sequence[str], spec: WorkSpec) -> list[str]:
    """Keep those who have any hours at all.

    Raises
    ------
    Refused
        When none of them has.
    """
    hours = {one.id: one for one in source.problem.people}
    found = [n for n in able if hours[n].available and hours[n].weekly_cap]
    if not found:
        who = ", ".join(able)
        raise Refused(
            f"{who} would make {spec.title} and has no hours at the bench in the next "
            f"{source.calendar.weeks} weeks. Look at the hours and days away in the "
            "settings, or let somebody else make it."
        )
    return found


def _last_burnt(problem: Problem, plan: Plan, piece: PlannedPiece) -> int:
    """Return when the last enamel firing of a new piece would be unloaded, else 0."""
    others = [one for one in problem.pieces if one.id != piece.id]
    facts = Facts(replace(problem, pieces=(*others, piece)))
    board = Board(facts)
    board.load(*placements_of(facts, plan, without=[piece.id]))
    number = facts.piece_number[piece.id]
    manner = best_manner(board, number)
    if manner is None or not board.insert(number, manner):
        return 0
    placed = board.placed[number]
    keys = placed.firings if placed is not None else ()
    return max((facts.night_ends[key.kind][key.night] for key in keys), default=0)


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
            # A longer look ahead may do.
            if source.calendar.weeks == WEEKS_TRIED[-1]:
                raise Refused(_no_room_words(source, piece, refusal)) from refusal
            return
        told = str(refusal).removeprefix(f"{refusal.key}: ")
        door = {"load": "Loading: ", "unload": "Unloading: "}
        what = door.get(refusal.key.rpartition(".")[2].removeprefix("fuse_"), "")
        raise Refused(f"{what}{told}") from refusal


def _no_room_words(
    source: StudioProblem, piece: PlannedPiece, refusal: PlanProblem
) -> str:
    """Say which is too little, hours at the bench or time in the kilns, with the facts."""
    weeks = source.calendar.weeks
    if refusal.key.endswith(".layers"):
        facts = Facts(replace(source.problem, pieces=(piece,)))
        able = facts.empty_hours[facts.pieces[0].artist]
        need = piece.assembly + sum(p.labour for layer in piece.layers for p in layer)
        return (
            f"Painting and stacking need {hours(need)}, and {piece.artist} has "
            f"{hours(free_slots(able, piece.release))} at the bench in the next {weeks} "
            "weeks. Look at their hours in the settings, or let somebody else make it."
        )
    if refusal.key.endswith(".fuse_run") and piece.fuse is not None:
        length = piece.fuse.load + piece.fuse.run + piece.fuse.unload
        return (
            f"Its fuse takes {hours(length)} and fits between the closures and bookings "
            f"of no kiln that takes it in the next {weeks} weeks. Look at the kilns' "
            "closures, and at kiln time that is held and not needed."
        )
    return f"It does not fit into the next {weeks} weeks."


def _in_words(
    source: StudioProblem,
    ground: Ground,
    kept: HeldPieces,
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
        reasons=tuple(reasons_of(answer.explanation.steps, source, reader)),
        relief=relief_words(answer.explanation.reliefs, piece.artist, calendar),
        moves=moves_words(answer.with_moves, piece.id, calendar),
        margin=margin_words(margin, record, calendar),
        assumptions=(*source.known, *source.assumptions),
        left_out=(*source.left_out, *kept.left_out, *late),
        held=held_words(kept.works),
    )
