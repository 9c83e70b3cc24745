"""Says whether a plan keeps the rules of the work, and what it costs.

It is written from the rules alone: it shares no step with the planner and believes
nothing that the plan says about itself.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, pairwise

from firing.planning.problem.problem import (
    SLOTS_PER_WEEK,
    EnamelKind,
    PlannedKiln,
    PlannedPerson,
    PlannedPiece,
    Problem,
    Skill,
    Window,
)
from firing.planning.problem.solution import (
    EnamelFiring,
    FuseFiring,
    Item,
    Solution,
    Task,
)
from studio.errors import StudioError

SLACK_MM = 1e-3
PassId = tuple[str, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A broken rule: its name, and the facts in words."""

    rule: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedPlan:
    """What `check_plan` found.

    Attributes
    ----------
    faults : tuple of Fault
        Empty when every rule is kept.
    undelivered, weighted_days_late : int
        The first two aims; the second in weight times days.
    kwh : float
        Energy of the firings [kWh]; fixed ones are not counted.
    delivery_days : int
        Sum of the days of delivery.
    """

    faults: tuple[Fault, ...]
    undelivered: int
    weighted_days_late: int
    kwh: float
    delivery_days: int

    @property
    def is_valid(self) -> bool:
        """Whether no rule is broken."""
        return not self.faults


class RuleBroken(StudioError):
    """The planner made a plan that breaks rules: a fault of the program; `faults` says which."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(
            "Slowcool worked out a plan that breaks a rule of the kilns, so it was not "
            "kept. Nothing was booked or moved. Tell whoever runs the server: the log "
            "names the rule."
        )
        self.faults = faults


def checked_plan(problem: Problem, plan: Solution) -> CheckedPlan:
    """Check a plan that the planner made itself.

    Parameters
    ----------
    problem : Problem
        What was to be planned [slots, mm, °F, kWh].
    plan : Solution
        Of the planner.

    Raises
    ------
    RuleBroken
        When it breaks a rule.

    References
    ----------
    See `check_plan`.
    """
    found = check_plan(problem, plan)
    if not found.is_valid:
        raise RuleBroken(found.faults)
    return found


def check_plan(problem: Problem, plan: Solution) -> CheckedPlan:
    """Check a plan against every rule, and count its costs again.

    Parameters
    ----------
    problem : Problem
        What was to be planned [slots, mm, °F, kWh].
    plan : Solution
        Where from does not matter.

    References
    ----------
    The rules that this project states for the output of `plan_kilns`.
    """
    facts = _Facts(problem, plan)
    faults: list[Fault] = []
    for rule in RULES:
        faults += rule(facts)
    late, days = 0, 0
    for piece in problem.pieces:
        if piece.id in facts.undelivered:
            continue
        day = facts.delivery_day(piece)
        days += day
        if piece.due_day is not None:
            late += piece.weight * max(0, day - piece.due_day)
    return CheckedPlan(
        faults=tuple(faults),
        undelivered=len(facts.undelivered),
        weighted_days_late=late,
        kwh=_energy(facts),
        delivery_days=days,
    )


class _Facts:
    """Look-ups over problem and plan; an unknown id is a fault, not a crash."""

    def __init__(self, problem: Problem, plan: Solution) -> None:
        self.problem = problem
        self.plan = plan
        self.kinds: Mapping[str, EnamelKind] = {one.id: one for one in problem.kinds}
        self.kilns: Mapping[str, PlannedKiln] = {one.id: one for one in problem.kilns}
        self.people: Mapping[str, PlannedPerson] = {o.id: o for o in problem.people}
        self.pieces: Mapping[str, PlannedPiece] = {
            one.id: one for one in problem.pieces
        }
        self.undelivered = set(plan.undelivered)
        self.paint: dict[PassId, Task] = {}
        self.assembly: dict[str, Task] = {}
        self.coldwork: dict[str, Task] = {}
        for task in plan.work:
            if task.task is Skill.PAINT:
                at = (task.piece, _number(task.layer), _number(task.position))
                self.paint[at] = task
            elif task.task is Skill.ASSEMBLE:
                self.assembly[task.piece] = task
            else:
                self.coldwork[task.piece] = task
        self.fired: dict[PassId, EnamelFiring] = {}
        for firing in plan.firings:
            for item in firing.items:
                self.fired[item.piece, item.layer, item.position] = firing
        self.fused = {one.piece: one for one in plan.fuses}

    def known(self, firing: EnamelFiring) -> bool:
        return firing.kind in self.kinds and firing.kiln in self.kilns

    def end_of(self, firing: EnamelFiring | FuseFiring) -> int:
        """Return the first slot after the unloading."""
        if isinstance(firing, EnamelFiring):
            return firing.unload_start + self.kinds[firing.kind].unload
        fuse = self.pieces[firing.piece].fuse
        return firing.unload_start + (fuse.unload if fuse else 0)

    def layers_end(self, piece: PlannedPiece) -> int:
        """Return when the last layer of the piece is out of its last firing."""
        ends = [piece.release]
        for number, layer in enumerate(piece.layers):
            for position in range(len(layer)):
                firing = self.fired.get((piece.id, number, position))
                if firing is not None and self.known(firing):
                    ends.append(self.end_of(firing))
        return max(ends)

    def fuse_end(self, piece: PlannedPiece) -> int:
        fuse = self.fused.get(piece.id)
        if piece.fuse is not None and fuse is not None:
            return self.end_of(fuse)
        assembly = self.assembly.get(piece.id)
        if assembly is not None and assembly.segments:
            return max(self.layers_end(piece), assembly.segments[-1][1])
        return self.layers_end(piece)

    def delivery_day(self, piece: PlannedPiece) -> int:
        task = self.coldwork.get(piece.id)
        end = task.segments[-1][1] if task and task.segments else self.fuse_end(piece)
        return (end - 1) // 48 + piece.ship_days


def _number(value: int | None) -> int:
    return -1 if value is None else value


def _fault(rule: str, text: str) -> Fault:
    return Fault(rule=rule, text=text)


# --- one function per rule ------------------------------------------------------


def names_are_known(facts: _Facts) -> Iterator[Fault]:
    """Kilns, kinds, people and pieces exist."""
    for firing in facts.plan.firings:
        if not facts.known(firing):
            yield _fault("names", f"Firing {firing.id}: unknown kiln or kind.")
        for item in firing.items:
            layers = (
                facts.pieces[item.piece].layers if item.piece in facts.pieces else ()
            )
            if not (
                0 <= item.layer < len(layers)
                and 0 <= item.position < len(layers[item.layer])
            ):
                yield _fault("names", f"Firing {firing.id}: unknown pass {item}.")
    for fuse in facts.plan.fuses:
        if fuse.kiln not in facts.kilns or fuse.piece not in facts.pieces:
            yield _fault("names", f"Fuse {fuse.id}: unknown kiln or piece.")
    for task in facts.plan.work:
        if task.person not in facts.people or task.piece not in facts.pieces:
            yield _fault("names", f"Work on {task.piece}: unknown person or piece.")


def everything_is_done_once(facts: _Facts) -> Iterator[Fault]:
    """Each pass is painted and fired once, each piece fused once; or undelivered."""
    fired = Counter(
        (item.piece, item.layer, item.position)
        for firing in facts.plan.firings
        for item in firing.items
    )
    tasks = Counter(
        (one.task, one.piece, _number(one.layer), _number(one.position))
        for one in facts.plan.work
    )
    fuses = Counter(one.piece for one in facts.plan.fuses)
    for piece in facts.problem.pieces:
        is_out = piece.id in facts.undelivered
        wanted = 0 if is_out else 1
        for number, layer in enumerate(piece.layers):
            for position, one in enumerate(layer):
                at = (piece.id, number, position)
                if fired[at] != wanted:
                    yield _fault("once", f"Pass {at} is fired {fired[at]} times.")
                painted = tasks[Skill.PAINT, *at]
                if painted != (wanted if one.labour else 0):
                    yield _fault("once", f"Pass {at} is painted {painted} times.")
        for skill, labour in (
            (Skill.ASSEMBLE, piece.assembly),
            (Skill.COLDWORK, piece.coldwork),
        ):
            count = tasks[skill, piece.id, -1, -1]
            if count != (wanted if labour else 0):
                yield _fault("once", f"{skill} of {piece.id} is done {count} times.")
        if fuses[piece.id] != (wanted if piece.fuse else 0):
            yield _fault("once", f"{piece.id} is fused {fuses[piece.id]} times.")
        if not is_out and piece.id not in facts.plan.delivery:
            yield _fault("once", f"{piece.id} has no day of delivery.")


def a_kiln_holds_one_firing(facts: _Facts) -> Iterator[Fault]:
    """From load start to the end of unloading, clear of maintenance and fixed ones."""
    taken: dict[str, list[tuple[int, int, str]]] = defaultdict(list)
    for one in facts.plan.firings:
        if facts.known(one):
            taken[one.kiln].append((one.load_start, facts.end_of(one), one.id))
    for fuse in facts.plan.fuses:
        if fuse.piece in facts.pieces:
            taken[fuse.kiln].append((fuse.load_start, facts.end_of(fuse), fuse.id))
    for kiln in facts.problem.kilns:
        spans = taken[kiln.id]
        ours = {name for _, _, name in spans}
        spans += [(start, end, "maintenance") for start, end in kiln.maintenance]
        spans += [
            (one.start, one.end, one.id)
            for one in facts.problem.fixed
            if one.kiln == kiln.id
        ]
        latest, holder = -1, ""
        for start, end, name in sorted(spans):
            if start < latest and (name in ours or holder in ours):
                yield _fault("one firing", f"Kiln {kiln.id}: {name} meets {holder}.")
            if end > latest:
                latest, holder = end, name


def doors_open_in_access(facts: _Facts) -> Iterator[Fault]:
    """Loading and unloading lie wholly in access, after the run, in the horizon."""
    for name, start, load, run, opened, unload in _runs(facts):
        for what, begin, length in (
            ("loading", start, load),
            ("unloading", opened, unload),
        ):
            if not any(
                a <= begin and begin + length <= b for a, b in facts.problem.access
            ):
                yield _fault("access", f"{name}: {what} at {begin} is outside access.")
        if opened < start + load + run:
            yield _fault("opened early", f"{name}: opened at {opened}.")
        if opened + unload > facts.problem.horizon or start < 0:
            yield _fault("horizon", f"{name} lies outside the horizon.")


def _runs(facts: _Facts) -> Iterator[tuple[str, int, int, int, int, int]]:
    for one in facts.plan.firings:
        if facts.known(one):
            kind = facts.kinds[one.kind]
            yield (
                one.id,
                one.load_start,
                kind.load,
                kind.run,
                one.unload_start,
                kind.unload,
            )
    for stack in facts.plan.fuses:
        piece = facts.pieces.get(stack.piece)
        fuse = piece.fuse if piece is not None else None
        if fuse is not None:
            yield (
                stack.id,
                stack.load_start,
                fuse.load,
                fuse.run,
                stack.unload_start,
                fuse.unload,
            )


def kilns_can_take_it(facts: _Facts) -> Iterator[Fault]:
    """Hot and high enough; the stack's footprint lies on the shelf."""
    for one in facts.plan.firings:
        if not facts.known(one):
            continue
        kiln, kind = facts.kilns[one.kiln], facts.kinds[one.kind]
        if kind.temp_f > kiln.max_temp_f:
            yield _fault("too cold", f"{one.id}: {kiln.id} does not reach it.")
        for item in one.items:
            piece = facts.pieces.get(item.piece)
            if piece is not None and piece.layer_height_mm > kiln.height_mm:
                yield _fault("too low", f"{one.id}: layer of {piece.id}.")
            if piece is not None and kiln.id in piece.layers_not_in:
                yield _fault("barred", f"{one.id}: layer of {piece.id} in {kiln.id}.")
    for fuse in facts.plan.fuses:
        piece = facts.pieces.get(fuse.piece)
        if piece is None or piece.fuse is None or fuse.kiln not in facts.kilns:
            continue
        kiln = facts.kilns[fuse.kiln]
        if piece.fuse.temp_f > kiln.max_temp_f:
            yield _fault("too cold", f"{fuse.id}: {kiln.id} does not reach it.")
        if piece.height_mm > kiln.height_mm:
            yield _fault("too low", f"{fuse.id}: {piece.id} in {kiln.id}.")
        if kiln.id in piece.stack_not_in:
            yield _fault("barred", f"{fuse.id}: {piece.id} in {kiln.id}.")
        sides = sorted((piece.width_mm, piece.depth_mm))
        shelf = sorted((kiln.width_mm, kiln.depth_mm))
        if sides[0] > shelf[0] or sides[1] > shelf[1]:
            yield _fault("too small", f"{fuse.id}: {piece.id} in {kiln.id}.")


def items_are_of_the_kind(facts: _Facts) -> Iterator[Fault]:
    """Every pass in a firing asks for that kind."""
    for firing in facts.plan.firings:
        for item in firing.items:
            one = _pass(facts, item)
            if one is not None and one != firing.kind:
                yield _fault("kind", f"{firing.id}: {item} asks for {one}.")


def _pass(facts: _Facts, item: Item) -> str | None:
    piece = facts.pieces.get(item.piece)
    if piece is None or not 0 <= item.layer < len(piece.layers):
        return None
    layer = piece.layers[item.layer]
    return layer[item.position].kind if 0 <= item.position < len(layer) else None


def items_lie_on_the_shelf_apart(facts: _Facts) -> Iterator[Fault]:
    """Inside the shelf, and the gap away from each other."""
    for firing in facts.plan.firings:
        if not facts.known(firing):
            continue
        kiln, gap = facts.kilns[firing.kiln], facts.kinds[firing.kind].gap_mm
        boxes = []
        for item in firing.items:
            piece = facts.pieces.get(item.piece)
            if piece is None:
                continue
            w, d = piece.width_mm, piece.depth_mm
            if item.is_turned:
                w, d = d, w
            box = (item.x_mm, item.y_mm, item.x_mm + w, item.y_mm + d)
            if (
                min(box[:2]) < -SLACK_MM
                or box[2] > kiln.width_mm + SLACK_MM
                or box[3] > kiln.depth_mm + SLACK_MM
            ):
                yield _fault("off the shelf", f"{firing.id}: {item}.")
            boxes.append(box)
        for a, b in combinations(boxes, 2):
            apart = max(b[0] - a[2], a[0] - b[2], b[1] - a[3], a[1] - b[3])
            if apart < gap - SLACK_MM:
                yield _fault("gap", f"{firing.id}: two layers are {apart:g} mm apart.")


def people_work_when_they_can(facts: _Facts) -> Iterator[Fault]:
    """The right person, skilled, available, on one thing at a time, within the limit."""
    used: dict[str, list[Window]] = defaultdict(list)
    booked = {name: person.booked for name, person in facts.people.items()}
    for task in facts.plan.work:
        person, piece = facts.people.get(task.person), facts.pieces.get(task.piece)
        if person is None or piece is None:
            continue
        if task.task not in person.skills:
            yield _fault("skill", f"{person.id} does not {task.task}.")
        if task.task is not Skill.COLDWORK and task.person != piece.artist:
            yield _fault("artist", f"{task.piece} is {piece.artist}'s.")
        for start, end in task.segments:
            if end <= start or not any(
                a <= start and end <= b for a, b in person.available
            ):
                yield _fault("available", f"{person.id} at [{start}, {end}).")
            used[person.id].append((start, end))
    for name, own in sorted(used.items()):
        segments = [*own, *booked[name]]
        for (_, end), (start, _) in pairwise(sorted(segments)):
            if start < end:
                yield _fault("one thing", f"{name} does two things at {start}.")
        weeks: Counter[int] = Counter()
        for start, end in segments:
            for slot in range(start, end):
                weeks[slot // SLOTS_PER_WEEK] += 1
        ours = {s // SLOTS_PER_WEEK for a, b in own for s in range(a, b)}
        cap = facts.people[name].weekly_cap
        for week, count in sorted(weeks.items()):
            if count > cap and week in ours:
                yield _fault("weekly cap", f"{name} works {count} in week {week}.")


def labour_is_exact(facts: _Facts) -> Iterator[Fault]:
    """Each task gets exactly its slots, in order."""
    for task in facts.plan.work:
        piece = facts.pieces.get(task.piece)
        if piece is None:
            continue
        if task.task is Skill.PAINT:
            layer, position = _number(task.layer), _number(task.position)
            if not (
                0 <= layer < len(piece.layers)
                and 0 <= position < len(piece.layers[layer])
            ):
                yield _fault("names", f"{piece.id}: no pass {layer}/{position}.")
                continue
            wanted = piece.layers[layer][position].labour
        else:
            is_cold = task.task is Skill.COLDWORK
            wanted = piece.coldwork if is_cold else piece.assembly
        done = sum(end - start for start, end in task.segments)
        if done != wanted:
            yield _fault("labour", f"{piece.id} {task.task}: {done}, not {wanted}.")
        if list(task.segments) != sorted(task.segments):
            yield _fault("labour", f"{piece.id} {task.task}: segments out of order.")


def work_follows_its_order(facts: _Facts) -> Iterator[Fault]:
    """Release, paint, fire, paint again, assemble, fuse, coldwork."""
    for piece in facts.problem.pieces:
        if piece.id in facts.undelivered:
            continue
        for number, layer in enumerate(piece.layers):
            ready = piece.release
            for position, one in enumerate(layer):
                ready = max(ready, one.not_before)
                at = (piece.id, number, position)
                task, firing = facts.paint.get(at), facts.fired.get(at)
                if task is not None and task.segments:
                    if task.segments[0][0] < ready:
                        yield _fault("order", f"{at} is painted before {ready}.")
                    ready = max(ready, task.segments[-1][1])
                if firing is not None and facts.known(firing):
                    if firing.load_start < ready:
                        yield _fault("order", f"{at} is loaded before {ready}.")
                    ready = facts.end_of(firing)
        ready = facts.layers_end(piece)
        assembly, fuse = facts.assembly.get(piece.id), facts.fused.get(piece.id)
        if assembly is not None and assembly.segments:
            if assembly.segments[0][0] < ready:
                yield _fault("order", f"{piece.id} is assembled before {ready}.")
            ready = assembly.segments[-1][1]
        if fuse is not None and fuse.load_start < ready:
            yield _fault("order", f"{piece.id} is fused before {ready}.")
        task = facts.coldwork.get(piece.id)
        ready = facts.fuse_end(piece)
        if task is not None and task.segments and task.segments[0][0] < ready:
            yield _fault("order", f"{piece.id} is coldworked before {ready}.")


def delivery_is_as_said(facts: _Facts) -> Iterator[Fault]:
    """The day of delivery follows from the end of the coldwork."""
    for piece in facts.problem.pieces:
        said = facts.plan.delivery.get(piece.id)
        if piece.id in facts.undelivered or said is None:
            continue
        day = facts.delivery_day(piece)
        if said != day:
            yield _fault("delivery", f"{piece.id} comes on day {day}, not {said}.")


RULES = (
    names_are_known,
    everything_is_done_once,
    a_kiln_holds_one_firing,
    doors_open_in_access,
    kilns_can_take_it,
    items_are_of_the_kind,
    items_lie_on_the_shelf_apart,
    people_work_when_they_can,
    labour_is_exact,
    work_follows_its_order,
    delivery_is_as_said,
)


def _energy(facts: _Facts) -> float:
    total = 0.0
    for one in facts.plan.firings:
        if one.kiln in facts.kilns:
            total += facts.kilns[one.kiln].kwh_per_enamel_firing
    for fuse in facts.plan.fuses:
        piece = facts.pieces.get(fuse.piece)
        if piece is not None and piece.fuse is not None and fuse.kiln in facts.kilns:
            total += facts.kilns[fuse.kiln].kwh_per_day_fuse * piece.fuse.run / 48
    return round(total, 6)
