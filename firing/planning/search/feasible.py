"""Whether a problem can be planned at all: plain questions whose answers make better
sentences than any solver's. What is only late or tight is not refused here.
"""

from collections.abc import Iterator
from dataclasses import replace

from firing.planning.problem.cannot import (
    BeginsTooLate,
    Cannot,
    Door,
    DoorTooShort,
    KilnLimits,
    LacksSkill,
    NobodyComesIn,
    NobodyForColdwork,
    NoGapForFuse,
    NoKilns,
    NoKilnTakes,
    TooMuchLabour,
)
from firing.planning.problem.cannot_words import CannotPlan
from firing.planning.problem.hours import Hours
from firing.planning.problem.problem import (
    SLOTS_PER_DAY,
    EnamelKind,
    PlannedPiece,
    Problem,
    Skill,
    Window,
    takes_layer,
    takes_stack,
)
from firing.planning.problem.problem_tables import Facts
from firing.planning.search.board import Board


def check_feasible(problem: Problem) -> None:
    """Refuse what no plan can do, naming the key and the facts.

    Parameters
    ----------
    problem : Problem
        As read [slots, °F, mm].

    Raises
    ------
    CannotPlan
        At the first thing that cannot be.

    References
    ----------
    The rules of the plan.
    """
    for reason in _hindrances(problem):
        raise CannotPlan(reason)


def leave_out_hopeless(problem: Problem) -> tuple[Problem, dict[str, Cannot]]:
    """Return the problem without the pieces that cannot be planned, and why not, each.

    What hinders every piece alike is left to `check_feasible`.

    Parameters
    ----------
    problem : Problem
        As read [slots, °F, mm].

    References
    ----------
    The rules of the plan.
    """
    found: dict[str, Cannot] = {}
    for reason in _hindrances(problem):
        for name in _hindered(problem, reason):
            found.setdefault(name, reason)
    left = tuple(one for one in problem.pieces if one.id not in found)
    return replace(problem, pieces=left), found


def _hindered(problem: Problem, reason: Cannot) -> list[str]:
    """Return the pieces that a reason hinders."""
    if isinstance(reason, DoorTooShort) and reason.kind:
        return [
            one.id
            for one in problem.pieces
            if any(p.kind == reason.kind for layer in one.layers for p in layer)
        ]
    return [] if isinstance(reason, NobodyComesIn | NoKilns) else [reason.piece]


def _hindrances(problem: Problem) -> Iterator[Cannot]:
    """Yield all that cannot be: for every piece, then for each."""
    if not problem.pieces:
        return
    if not problem.access:
        yield NobodyComesIn()
        return
    if not problem.kilns:
        yield NoKilns()
        return
    people = {who.id: who for who in problem.people}
    kinds = {kind.id: kind for kind in problem.kinds}
    for piece in problem.pieces:
        yield from _lacking_skills(piece, people[piece.artist].skills)
    yield from _lacking_coldwork(problem)
    for kind in problem.kinds:
        yield from _short_doors(problem, kind.load, kind.unload, kind=kind.id)
    for piece in problem.pieces:
        yield from _lacking_kilns(problem, piece, kinds)
        yield from _beyond_horizon(problem, piece)
        if piece.fuse is not None:
            load, unload = piece.fuse.load, piece.fuse.unload
            yield from _short_doors(problem, load, unload, piece=piece.id)
    empty = Board(Facts(problem))
    for number in range(len(problem.pieces)):
        yield from _lacking_gap(empty, number)
        yield from _lacking_labour(empty.facts, number)


def _lacking_skills(
    piece: PlannedPiece, skills: frozenset[Skill]
) -> Iterator[LacksSkill]:
    wanted = [(Skill.ASSEMBLE, piece.assembly)]
    wanted.append((Skill.PAINT, sum(p.labour for layer in piece.layers for p in layer)))
    for skill, labour in wanted:
        if labour and skill not in skills:
            yield LacksSkill(piece=piece.id, artist=piece.artist, skill=skill)


def _lacking_coldwork(problem: Problem) -> Iterator[NobodyForColdwork]:
    able = [p for p in problem.people if Skill.COLDWORK in p.skills]
    for piece in problem.pieces:
        if piece.coldwork and not any(p.available and p.weekly_cap for p in able):
            yield NobodyForColdwork(piece=piece.id)


def _short_doors(
    problem: Problem, load: int, unload: int, *, kind: str = "", piece: str = ""
) -> Iterator[DoorTooShort]:
    longest = max(end - start for start, end in problem.access)
    for door, length in ((Door.LOAD, load), (Door.UNLOAD, unload)):
        if length > longest:
            yield DoorTooShort(
                door=door, needed=length, longest=longest, kind=kind, piece=piece
            )


def _lacking_kilns(
    problem: Problem, piece: PlannedPiece, kinds: dict[str, EnamelKind]
) -> Iterator[NoKilnTakes]:
    for name in sorted({p.kind for layer in piece.layers for p in layer}):
        kind = kinds[name]
        if not any(takes_layer(kiln, kind, piece) for kiln in problem.kilns):
            height = piece.layer_height_mm
            yield why_no_kiln(problem, piece, kind.temp_f, height, name)
    fuse = piece.fuse
    if fuse and not any(takes_stack(kiln, piece) for kiln in problem.kilns):
        yield why_no_kiln(problem, piece, fuse.temp_f, piece.height_mm)


def why_no_kiln(
    problem: Problem,
    piece: PlannedPiece,
    temp_f: float,
    height_mm: float,
    kind: str = "",
) -> NoKilnTakes:
    """Return, kiln by kiln, which limits a piece breaks.

    Parameters
    ----------
    problem : Problem
        With the kilns.
    piece : PlannedPiece
        With its footprint [mm].
    temp_f, height_mm : float
        What the firing needs [°F, mm].
    kind : str
        Of the enamel firing; empty for the stack.

    References
    ----------
    The rules of the plan.
    """
    sides = sorted((piece.width_mm, piece.depth_mm))
    kilns = []
    for kiln in problem.kilns:
        shelf = sorted((kiln.width_mm, kiln.depth_mm))
        is_small = sides[0] > shelf[0] or sides[1] > shelf[1]
        kilns.append(
            KilnLimits(
                kiln=kiln.id,
                is_barred=kiln.id in piece.layers_not_in | piece.stack_not_in,
                reaches_f=kiln.max_temp_f if kiln.max_temp_f < temp_f else None,
                height_mm=kiln.height_mm if kiln.height_mm < height_mm else None,
                shelf_mm=(kiln.width_mm, kiln.depth_mm) if is_small else None,
            )
        )
    return NoKilnTakes(
        piece=piece.id,
        kind=kind,
        temp_f=temp_f,
        height_mm=height_mm,
        size_mm=(piece.width_mm, piece.depth_mm),
        kilns=tuple(kilns),
    )


def _beyond_horizon(problem: Problem, piece: PlannedPiece) -> Iterator[BeginsTooLate]:
    fuse = piece.fuse
    length = fuse.load + fuse.run + fuse.unload if fuse is not None else 0
    if piece.release + length >= problem.horizon:
        yield BeginsTooLate(
            piece=piece.id,
            release=piece.release,
            horizon=problem.horizon,
            needed=piece.release + length,
        )


def _lacking_gap(empty: Board, number: int) -> Iterator[NoGapForFuse]:
    """Find a fuse that is longer than every gap of its kilns."""
    facts = empty.facts.pieces[number]
    piece, fuse = facts.piece, facts.piece.fuse
    if fuse is None:
        return
    if all(
        empty.earliest_run(kiln, piece.release, fuse.load, fuse.run, fuse.unload)
        is None
        for kiln in facts.fuse_kilns
    ):
        needed = fuse.load + fuse.run + fuse.unload
        yield NoGapForFuse(piece=piece.id, needed=needed)


def _lacking_labour(facts: Facts, number: int) -> Iterator[TooMuchLabour]:
    piece = facts.pieces[number].piece
    wanted = piece.assembly + sum(p.labour for layer in piece.layers for p in layer)
    have = free_slots(facts.empty_hours[facts.pieces[number].artist], piece.release)
    if wanted > have:
        yield TooMuchLabour(
            piece=piece.id,
            artist=piece.artist,
            needed=wanted,
            has=have,
            release=piece.release,
        )


def free_slots(calendar: Hours, start: int) -> int:
    """Return how many slots a person can work from `start` on, within weekly limits.

    Parameters
    ----------
    calendar : Hours
        Of a person without work.
    start : int
        First slot that counts.

    References
    ----------
    Arithmetic.
    """
    weeks: dict[int, int] = {}
    for begin, end, week in zip(
        calendar.starts, calendar.ends, calendar.week, strict=True
    ):
        weeks[week] = weeks.get(week, 0) + max(0, end - max(begin, start))
    return sum(min(count, calendar.left[week]) for week, count in weeks.items())


def horizon_that_would_do(problem: Problem, order: list[str]) -> tuple[str, int | None]:
    """Return the first piece without room, and a horizon with room for all.

    The calendar is extended by repeating its last four weeks; None when even four times
    the horizon is not enough.

    Parameters
    ----------
    problem : Problem
        Its horizon is too short.
    order : list of str
        Ids of the pieces that stayed out.

    References
    ----------
    Repeating the last weeks is a guess, and is said to be one.
    """
    longer = problem
    for factor in (1.5, 2, 3, 4):
        longer = _carried_on(problem, int(problem.horizon * factor))
        board = Board(Facts(longer))
        ends = []
        for number, piece in enumerate(board.facts.pieces):
            if not board.insert(number):
                break
            placed = board.placed[number]
            if placed is not None:
                ends.append((placed.day - piece.piece.ship_days + 1) * SLOTS_PER_DAY)
        else:
            return order[0], max(ends)
    return order[0], None


def _carried_on(problem: Problem, horizon: int) -> Problem:
    return replace(
        problem,
        horizon=horizon,
        access=_repeated(problem.access, problem.horizon, horizon),
        people=tuple(
            replace(who, available=_repeated(who.available, problem.horizon, horizon))
            for who in problem.people
        ),
    )


def _repeated(
    windows: tuple[Window, ...], until: int, horizon: int
) -> tuple[Window, ...]:
    period = 4 * 7 * SLOTS_PER_DAY
    weeks_end = until - until % (7 * SLOTS_PER_DAY)
    pattern = [w for w in windows if weeks_end - period <= w[0] < weeks_end]
    result = [w for w in windows if w[0] < weeks_end]
    shift = period
    while pattern and weeks_end + shift - period < horizon:
        result += [(a + shift, b + shift) for a, b in pattern]
        shift += period
    return tuple(w for w in result if w[1] <= horizon)
