"""The earliest honest date for work that does not exist yet, moving nothing, with a
margin from the studio's own record and the reasons in words.

It takes plain numbers and knows nothing of commissions.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from firing.loads.selectors.planned import standing_plan
from firing.planning.problem.cannot import MAY_FIT_LATER, OF_THE_HORIZON
from firing.planning.problem.cannot_words import CannotPlan
from firing.planning.problem.problem import PlannedPiece, Problem
from firing.planning.problem.problem_tables import Facts
from firing.planning.problem.solution import Solution
from firing.planning.promises.promise import Promise, TrackRecord, best_manner, promise
from firing.planning.search.board import Board
from firing.planning.search.feasible import check_feasible
from firing.planning.search.publish import placements_of
from firing.plans.selectors.ids import piece_id
from firing.plans.selectors.problem import (
    StudioProblem,
    WorkSpec,
    new_piece,
    plan_problem,
)
from firing.plans.selectors.reasons import (
    Reason,
    no_plan_words,
    reasons_of,
    relief_words,
)
from firing.promises.selectors.reserved_work import (
    Ground,
    HeldPieces,
    HeldWork,
    artist_of,
    fresh_title,
    held_pieces,
    titles_of,
)
from firing.promises.selectors.studio_record import studio_record
from firing.promises.selectors.words import (
    held_words,
    margin_words,
    moves_words,
)
from studio.errors import Refused
from studio.labour import Task
from studio.models import Glass, Studio
from studio.viewer import Viewer

# Half a year first; if nothing fits there, a year and a half.
WEEKS_TRIED = (26, 78)
# Seed of the draws behind the margin: the same facts give the same dates.
SEED = 1
# Ids of what does not exist yet.
NEW, NEW_SMALL = "new", "new:maquette"


@dataclass(frozen=True, slots=True, kw_only=True)
class StudioPromise:
    """When work can be ready, and why not sooner; every text is for the reader.

    Attributes
    ----------
    ready_date : date
        If nothing is lost and nothing is late, so not a date to promise.
    date_80, date_95 : date or None
        Kept in 80 and 95 of 100; none where that lies beyond what was looked at.
    enamel_kiln, fuse_kiln : int or None
        Keys of the kilns it is planned in.
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
    enamel_kiln: int | None
    fuse_kiln: int | None


def promise_for(
    *,
    studio: Studio,
    spec: WorkSpec,
    maquette: WorkSpec | None,
    tasks: tuple[Task, ...],
    due_dates: Mapping[int, date],
    now: datetime,
    maker: int | None = None,
    held: Sequence[HeldWork] = (),
) -> StudioPromise:
    """Return the earliest honest date for a piece, and for the maquette before it.

    Parameters
    ----------
    tasks : tuple of Task
        By whose rules the pieces in work take their time.
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

    def look(source: StudioProblem, record: TrackRecord) -> StudioPromise | None:
        return _promised(source, spec, maquette, record, maker, held)

    return _looked_ahead(
        look,
        studio=studio,
        tasks=tasks,
        due_dates=due_dates,
        now=now,
        glasses=[*glasses, *_glasses(held)],
    )


def promise_again(
    *,
    studio: Studio,
    piece: int,
    maquette: int | None,
    tasks: tuple[Task, ...],
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

    def look(source: StudioProblem, record: TrackRecord) -> StudioPromise | None:
        return _promised_again(source, piece, maquette, record, held)

    return _looked_ahead(
        look,
        studio=studio,
        tasks=tasks,
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


Look = Callable[[StudioProblem, TrackRecord], StudioPromise | None]


def _looked_ahead(
    look: Look,
    *,
    studio: Studio,
    tasks: tuple[Task, ...],
    due_dates: Mapping[int, date],
    now: datetime,
    glasses: Sequence[Glass],
) -> StudioPromise:
    record = studio_record(studio, tasks=tasks)
    for weeks in WEEKS_TRIED:
        source = plan_problem(
            studio=studio,
            now=now,
            weeks=weeks,
            tasks=tasks,
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
    record: TrackRecord,
    maker: int | None,
    held: Sequence[HeldWork],
) -> StudioPromise | None:
    """Return the promise within the horizon of the source; none if there is no room."""
    start = source.calendar.start
    standing = standing_plan(source.studio)
    taken = titles_of(source)
    title = fresh_title(spec.title, taken)
    named = artist_of(source, maker)
    able = [named] if named is not None else list(source.artists)
    able = _with_time(source, able, spec)
    small_title = fresh_title(f"Maquette of {title}", taken)
    called = {NEW: title, NEW_SMALL: small_title}
    called |= {f"{NEW}/{who}": title for who in able}
    source = replace(source, called={**source.called, **called})

    def variants(of: WorkSpec) -> list[PlannedPiece]:
        found = [
            new_piece(source, of, key=f"{NEW}/{who}", artist=who, release=start)
            for who in able
        ]
        _refuse_infeasible(source, found[0])
        return found

    first = variants(spec)
    if maquette is not None:
        first = variants(maquette)
    kept = held_pieces(source, held, standing)
    ground = Ground(source, kept.pieces, first, standing)
    chosen = ground.soonest()
    if chosen is None:
        return None
    problem = replace(source.problem, pieces=ground.pieces)
    plan = ground.plan()
    release, maquette_date = start, None
    if maquette is not None:
        small = replace(chosen.piece, id=NEW_SMALL)
        problem = replace(problem, pieces=(*problem.pieces, small))
        plan = ground.plan_with(chosen, small.id)
        release = chosen.out_of_kiln
        maquette_date = source.calendar.date_of(chosen.day)
    piece = new_piece(
        source, spec, key=NEW, artist=chosen.piece.artist, release=release
    )
    answer = _answer(problem, plan, piece, record)
    if answer is None:
        return None
    return _in_words(source, ground, kept, piece, answer, record, maquette_date)


def _promised_again(
    source: StudioProblem,
    piece: int,
    maquette: int | None,
    record: TrackRecord,
    held: Sequence[HeldWork],
) -> StudioPromise | None:
    """Return the promise of a piece that is already open; everything else stays.

    If the standing plan has the piece, it comes no sooner than planned there.
    """
    open_now = {one.id: one for one in source.problem.pieces}
    own = open_now.get(piece_id(piece))
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
    first = None if maquette is None else ground.placed(piece_id(maquette))
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
    """Return a promise this many days later, with its margin."""
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
    problem: Problem, plan: Solution, piece: PlannedPiece, record: TrackRecord
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
    except CannotPlan as refusal:
        if isinstance(refusal.reason, OF_THE_HORIZON):
            return None
        raise


def _with_time(source: StudioProblem, able: Sequence[str], spec: WorkSpec) -> list[str]:
    """Return the people who have any hours at all.

    Raises
    ------
    Refused
        When none of them has.
    """
    hours = {one.id: one for one in source.problem.people}
    found = [n for n in able if hours[n].available and hours[n].weekly_cap]
    if not found:
        who = ", ".join(source.call(one) for one in able)
        raise Refused(
            f"{who} would make {spec.title} and has no hours at the bench in the next "
            f"{source.calendar.weeks} weeks. Look at the hours and days away in the "
            "settings, or let somebody else make it."
        )
    return found


def _last_burnt(problem: Problem, plan: Solution, piece: PlannedPiece) -> int:
    """Return when the last enamel firing of a new piece is unloaded, else 0."""
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
    except CannotPlan as refusal:
        is_last = source.calendar.weeks == WEEKS_TRIED[-1]
        if is_last or not isinstance(refusal.reason, MAY_FIT_LATER):
            raise Refused(no_plan_words(refusal.reason, source)) from refusal


def _in_words(
    source: StudioProblem,
    ground: Ground,
    kept: HeldPieces,
    piece: PlannedPiece,
    answer: Promise,
    record: TrackRecord,
    maquette_date: date | None,
) -> StudioPromise:
    source = replace(source, called={**source.called, **kept.called})
    calendar = source.calendar
    viewer: Viewer = source.workshop.viewer
    margin = answer.margin

    def day(number: int | None) -> date | None:
        return None if number is None else calendar.date_of(number)

    late = [
        f"{source.call(one)} finds no room in the next {calendar.weeks} weeks and is "
        "not reckoned with."
        for one in ground.late
    ]
    artist = source.call(piece.artist)
    return StudioPromise(
        ready_date=calendar.date_of(answer.day),
        date_80=day(margin.day_80),
        date_95=day(margin.day_95),
        artist=artist,
        maquette_date=maquette_date,
        reasons=tuple(reasons_of(answer.explanation.steps, source, viewer)),
        relief=relief_words(answer.explanation.reliefs, artist, calendar),
        moves=moves_words(answer.with_moves, piece.id, source),
        margin=margin_words(margin, record, calendar),
        assumptions=(*source.known, *source.assumptions),
        left_out=(*source.left_out, *kept.left_out, *late),
        held=held_words(kept.works),
        enamel_kiln=source.kiln_pks.get(answer.enamel_kiln),
        fuse_kiln=source.kiln_pks.get(answer.fuse_kiln),
    )
