"""Turns the planner's board into a plan of plain values, and a plan into a board."""

from collections import defaultdict
from collections.abc import Sequence

from firing.planning.packing.packing import Spot
from firing.planning.problem.problem import Fuse, PlanProblem, Skill, days_late
from firing.planning.problem.problem_tables import Facts, PassFacts, PieceFacts
from firing.planning.problem.solution import (
    EnamelFiring,
    FuseFiring,
    Item,
    Solution,
    Task,
)
from firing.planning.search.board import Board
from firing.planning.search.placing import FiringKey, FuseSlot, Kept, Labour, Placed


def to_plan(board: Board) -> Solution:
    """Return the board's contents as a plan, everything in a fixed order.

    Parameters
    ----------
    board : Board
        With whatever pieces are placed.

    References
    ----------
    Numbering by start, then kiln.
    """
    facts = board.facts
    starts: list[tuple[int, str, FiringKey | int]] = []
    for key in board.firings:
        run = facts.nights[key.kind][key.night]
        starts.append((run.start, facts.kilns[key.kiln].id, key))
    for number, placed in enumerate(board.placed):
        if placed is not None and placed.fuse is not None:
            kiln = facts.kilns[placed.fuse.kiln].id
            starts.append((placed.fuse.start, kiln, number))
    firings, fuses = [], []
    ordered = sorted(starts, key=lambda row: row[:2])
    for count, (_, _, what) in enumerate(ordered, start=1):
        if isinstance(what, FiringKey):
            firings.append(_enamel(board, what, f"F{count}"))
        else:
            fuses.append(_fuse(board, what, f"F{count}"))
    work: list[Task] = []
    delivery = {}
    undelivered = []
    for number, placed in enumerate(board.placed):
        name = facts.pieces[number].piece.id
        if placed is None:
            undelivered.append(name)
            continue
        delivery[name] = placed.day
        work += _work(board, number, placed)
    return Solution(
        firings=tuple(firings),
        fuses=tuple(fuses),
        work=tuple(work),
        delivery=delivery,
        undelivered=tuple(undelivered),
    )


def _enamel(board: Board, key: FiringKey, name: str) -> EnamelFiring:
    facts, firing = board.facts, board.firings[key]
    shelf = facts.shelves[key.kiln][key.kind]
    run = facts.nights[key.kind][key.night]
    by_size = sorted(
        firing.items, key=lambda n: (facts.pieces[facts.passes[n].piece].size, n)
    )
    items = {}
    for number, (x, y, turned) in zip(by_size, shelf.spots[firing.state], strict=True):
        one = facts.passes[number]
        items[number] = Item(
            piece=facts.pieces[one.piece].piece.id,
            layer=one.layer,
            position=one.position,
            x_mm=x,
            y_mm=y,
            is_turned=turned,
        )
    return EnamelFiring(
        id=name,
        kiln=facts.kilns[key.kiln].id,
        kind=facts.kinds[key.kind].id,
        load_start=run.start,
        unload_start=run.unload,
        items=tuple(items[number] for number in sorted(items)),
    )


def _fuse(board: Board, number: int, name: str) -> FuseFiring:
    placed = board.placed[number]
    if placed is None or placed.fuse is None:
        raise AssertionError("Only placed fuses are written.")
    return FuseFiring(
        id=name,
        kiln=board.facts.kilns[placed.fuse.kiln].id,
        piece=board.facts.pieces[number].piece.id,
        load_start=placed.fuse.start,
        unload_start=placed.fuse.unload,
    )


def _work(board: Board, number: int, placed: Placed) -> list[Task]:
    facts = board.facts
    piece = facts.pieces[number]
    rows: list[tuple[Skill, Labour | None, PassFacts | None]] = [
        (Skill.PAINT, work, one)
        for one, work in zip(piece.passes, placed.paint, strict=True)
    ]
    rows.append((Skill.ASSEMBLE, placed.assembly, None))
    rows.append((Skill.COLDWORK, placed.coldwork, None))
    return [
        Task(
            piece=piece.piece.id,
            task=skill,
            person=facts.people[work.person].id,
            segments=tuple(board.hours[work.person].segments(work.shares)),
            layer=one.layer if one else None,
            position=one.position if one else None,
        )
        for skill, work, one in rows
        if work is not None and work.shares
    ]


def placements_of(
    facts: Facts, plan: Solution, *, without: Sequence[str] = ()
) -> tuple[list[Placed | None], dict[FiringKey, dict[int, Spot]]]:
    """Return where each piece of the plan is; None where it is not complete.

    Parameters
    ----------
    facts : Facts
        Tables of the problem.
    plan : Solution
        Valid for that problem (see `check`), but for the pieces left away.
    without : sequence of str
        Pieces that are left away.

    Raises
    ------
    PlanProblem
        When the plan names what the problem does not have.

    References
    ----------
    Reverse of `to_plan`.
    """
    spots: dict[FiringKey, dict[int, Spot]] = defaultdict(dict)
    keys: dict[int, FiringKey] = {}
    try:
        for firing in plan.firings:
            key = _key_of(facts, firing)
            for item in firing.items:
                if item.piece in without or key is None:
                    continue
                piece = facts.pieces[facts.piece_number[item.piece]]
                number = piece.layers[item.layer][item.position].number
                keys[number] = key
                spots[key][number] = (item.x_mm, item.y_mm, item.is_turned)
        tasks = {
            (one.task, one.piece, one.layer, one.position): one for one in plan.work
        }
        fuses = {one.piece: one for one in plan.fuses}
        whole = [
            _placed(facts, number, keys, tasks, fuses)
            if piece.piece.id not in without
            else None
            for number, piece in enumerate(facts.pieces)
        ]
    except (KeyError, IndexError) as wrong:
        raise PlanProblem("plan", f"it names what is not there: {wrong}.") from wrong
    for key in list(spots):
        spots[key] = {
            number: spot
            for number, spot in spots[key].items()
            if whole[facts.passes[number].piece] is not None
        }
    return whole, dict(spots)


def kept_parts(facts: Facts, plan: Solution) -> list[Kept]:
    """Return, per piece, what of an older plan could stay as it was.

    Whatever the facts no longer allow is left out: the board keeps the rest without
    asking again.

    Parameters
    ----------
    facts : Facts
        Tables of the problem as it is now.
    plan : Solution
        Of an earlier state: it may name pieces and passes that are gone, and break any
        rule of today.

    References
    ----------
    Reverse of `to_plan`, without asking that it be whole.
    """
    spots: dict[FiringKey, dict[int, Spot]] = defaultdict(dict)
    keys: dict[int, FiringKey] = {}
    for firing in plan.firings:
        known = firing.kind in facts.kind_number and firing.kiln in facts.kiln_number
        key = _key_of(facts, firing) if known else None
        for item in firing.items:
            number = _pass_number(facts, item)
            if number is not None and key is not None:
                keys[number] = key
                spots[key][number] = (item.x_mm, item.y_mm, item.is_turned)
    tasks = {
        (one.task, one.piece, one.layer, one.position): one
        for one in plan.work
        if one.person in facts.person_number
    }
    fuses = {one.piece: one for one in plan.fuses if one.kiln in facts.kiln_number}
    for key in list(spots):
        # Layers or gaps may have grown since: then they are laid anew.
        shelf = facts.shelves[key.kiln][key.kind]
        sized = [(_size_of(facts, n), spot) for n, spot in spots[key].items()]
        if not shelf.can_lie(sized):
            del spots[key]
    return [_kept(facts, number, keys, spots, tasks, fuses) for number in _all(facts)]


def _all(facts: Facts) -> range:
    return range(len(facts.pieces))


def _size_of(facts: Facts, number: int) -> int:
    return facts.pieces[facts.passes[number].piece].size


def _pass_number(facts: Facts, item: Item) -> int | None:
    at = facts.piece_number.get(item.piece)
    if at is None or item.layer >= len(facts.pieces[at].layers):
        return None
    layer = facts.pieces[at].layers[item.layer]
    return layer[item.position].number if item.position < len(layer) else None


def _kept(
    facts: Facts,
    number: int,
    keys: dict[int, FiringKey],
    spots: dict[FiringKey, dict[int, Spot]],
    tasks: "dict[TaskKey, Task]",
    fuses: dict[str, FuseFiring],
) -> Kept:
    piece = facts.pieces[number]
    one = piece.piece
    paint = {}
    for p in piece.passes:
        work = _work_of(facts, tasks.get((Skill.PAINT, one.id, p.layer, p.position)))
        if work is None and not p.labour:
            at = (
                facts.night_starts[keys[p.number].kind][keys[p.number].night]
                if (p.number in keys)
                else 0
            )
            work = Labour(piece.artist, [], at, at)
        if work is not None and work.person in _able(facts, piece, Skill.PAINT):
            paint[p.number] = work
    assembly = tasks.get((Skill.ASSEMBLE, one.id, None, None))
    coldwork = tasks.get((Skill.COLDWORK, one.id, None, None))
    return Kept(
        paint,
        {p.number: keys[p.number] for p in piece.passes if p.number in keys},
        _exact(facts, assembly, one.assembly, _able(facts, piece, Skill.ASSEMBLE)),
        _fuse_slot(facts, one.fuse, fuses.get(one.id)),
        _exact(facts, coldwork, one.coldwork, facts.cold_workers),
        spots,
    )


def _able(facts: Facts, piece: PieceFacts, skill: Skill) -> Sequence[int]:
    """Return who may do this work: the piece's artist, or nobody."""
    is_able = skill in facts.people[piece.artist].skills
    return [piece.artist] if is_able else []


def _fuse_slot(
    facts: Facts, fuse: Fuse | None, firing: FuseFiring | None
) -> FuseSlot | None:
    """Return when a stack was to be fused, if somebody is still in then."""
    if fuse is None or firing is None:
        return None
    start, opened = firing.load_start, firing.unload_start
    if opened < start + fuse.load + fuse.run:
        return None
    doors = ((start, fuse.load), (opened, fuse.unload))
    if not all(facts.access.is_open(at, length) for at, length in doors):
        return None
    return FuseSlot(facts.kiln_number[firing.kiln], start, opened, opened + fuse.unload)


def _exact(
    facts: Facts, task: Task | None, labour: int, able: Sequence[int]
) -> Labour | None:
    """Return the work of a task if it is still of this length and one of these can do it."""
    work = _work_of(facts, task)
    if work is None or work.person not in able:
        return None
    if sum(bits.bit_count() for _, bits in work.shares) != labour:
        return None
    return work


TaskKey = tuple[Skill, str, int | None, int | None]


def _key_of(facts: Facts, firing: EnamelFiring) -> FiringKey | None:
    """Return the night of a firing; None if no night has exactly these times."""
    kind = facts.kind_number[firing.kind]
    night = facts.night_at[kind].get((firing.load_start, firing.unload_start))
    if night is None:
        return None
    return FiringKey(facts.kiln_number[firing.kiln], kind, night)


def _placed(
    facts: Facts,
    number: int,
    keys: dict[int, FiringKey],
    tasks: dict[TaskKey, Task],
    fuses: dict[str, FuseFiring],
) -> Placed | None:
    piece = facts.pieces[number]
    one = piece.piece
    if any(p.number not in keys for p in piece.passes):
        return None
    paint = []
    for p in piece.passes:
        work = _work_of(facts, tasks.get((Skill.PAINT, one.id, p.layer, p.position)))
        if work is None:
            if p.labour:
                return None
            at = max(one.release, p.not_before)
            work = Labour(piece.artist, [], at, at)
        paint.append(work)
    assembly = _work_of(facts, tasks.get((Skill.ASSEMBLE, one.id, None, None)))
    coldwork = _work_of(facts, tasks.get((Skill.COLDWORK, one.id, None, None)))
    fuse = None
    if one.fuse is not None and one.id in fuses:
        firing = fuses[one.id]
        fuse = FuseSlot(
            facts.kiln_number[firing.kiln],
            firing.load_start,
            firing.unload_start,
            firing.unload_start + one.fuse.unload,
        )
    if (
        (one.assembly and assembly is None)
        or (one.coldwork and coldwork is None)
        or (one.fuse is not None and fuse is None)
    ):
        return None
    firings = tuple(keys[p.number] for p in piece.passes)
    day = _day(facts, number, firings, assembly, fuse, coldwork)
    cost = one.weight * days_late(one, day)
    return Placed(tuple(paint), firings, assembly, fuse, coldwork, day, cost)


def _day(
    facts: Facts,
    number: int,
    firings: tuple[FiringKey, ...],
    assembly: Labour | None,
    fuse: FuseSlot | None,
    coldwork: Labour | None,
) -> int:
    one = facts.pieces[number].piece
    ends = [one.release, *(facts.night_ends[k.kind][k.night] for k in firings)]
    ends += [part.end for part in (assembly, fuse, coldwork) if part is not None]
    return max(max(ends) - 1, 0) // 48 + one.ship_days


def _work_of(facts: Facts, task: Task | None) -> Labour | None:
    if task is None or not task.segments:
        return None
    person = facts.person_number[task.person]
    shares = facts.empty_hours[person].shares_of(task.segments)
    if shares is None:
        return None
    return Labour(person, shares, task.segments[0][0], task.segments[-1][1])
