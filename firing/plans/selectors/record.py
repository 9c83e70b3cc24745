"""A plan as it is stored: by database keys and instants, so that it keeps its meaning
when names, slots and remaining work change; and how it is read back.

A record is ``{"firings": [...], "fuses": [...], "work": [...], "deliveries": {piece:
date}, "undelivered": [piece]}``. Instants are ISO 8601 in UTC, lengths in mm.
"""

from datetime import UTC, date, datetime
from typing import Any

from firing.loads.selectors.planned import movable_firings, planned_work
from firing.models import FiringKind, Plan, PlannedItem, PlannedWork
from firing.planning.problem.problem import Skill
from firing.planning.problem.solution import (
    TASK_WORDS,
    EnamelFiring,
    FuseFiring,
    Item,
    Solution,
    Task,
)
from firing.planning.spans.slots import slot_from
from firing.plans.selectors.problem import StudioProblem

Record = dict[str, Any]
EMPTY: Record = {
    "firings": [],
    "fuses": [],
    "work": [],
    "deliveries": {},
    "undelivered": [],
}
SKILLS = {word: skill for skill, word in TASK_WORDS.items()}


def record_of(plan: Solution, source: StudioProblem) -> Record:
    """Return a plan of the problem as a record."""
    calendar, problem = source.calendar, source.problem
    kilns = source.kiln_pks
    kinds = {kind.id: kind for kind in problem.kinds}
    pieces = {piece.id: piece for piece in problem.pieces}

    def at(slot: int) -> str:
        return calendar.instant(slot).astimezone(UTC).isoformat()

    def ref(piece: str, layer: int, position: int) -> dict[str, Any]:
        one = source.pass_refs[piece, layer, position]
        return {
            "piece": source.piece_pks[piece],
            "layer": one.layer,
            "attempt": one.attempt,
            "number": one.number,
            "pass": one.of_pass,
        }

    firings = [
        {
            "kiln": kilns[one.kiln],
            "kind": str(FiringKind.ENAMEL.value),
            "starts_at": at(one.load_start),
            "opens_at": at(one.unload_start),
            "ends_at": at(one.unload_start + kinds[one.kind].unload),
            "items": [
                {
                    **ref(item.piece, item.layer, item.position),
                    "x": item.x_mm,
                    "y": item.y_mm,
                    "turned": item.is_turned,
                }
                for item in one.items
            ],
        }
        for one in plan.firings
    ]
    fuses = []
    for fused in plan.fuses:
        fuse = pieces[fused.piece].fuse
        fuses.append(
            {
                "kiln": kilns[fused.kiln],
                "kind": str(source.fuse_kinds[fused.piece]),
                "piece": source.piece_pks[fused.piece],
                "starts_at": at(fused.load_start),
                "opens_at": at(fused.unload_start),
                "ends_at": at(fused.unload_start + (fuse.unload if fuse else 1)),
            }
        )
    work = []
    for task in plan.work:
        row: dict[str, Any] = {
            "person": source.person_pks[task.person],
            "task": TASK_WORDS[task.task],
            "segments": [[at(a), at(b)] for a, b in task.segments],
        }
        if task.layer is not None and task.position is not None:
            row |= ref(task.piece, task.layer, task.position)
        else:
            row["piece"] = source.piece_pks[task.piece]
        work.append(row)
    return {
        "firings": firings,
        "fuses": fuses,
        "work": work,
        "deliveries": {
            str(source.piece_pks[one]): calendar.date_of(day).isoformat()
            for one, day in plan.delivery.items()
        },
        "undelivered": [source.piece_pks[one] for one in plan.undelivered],
    }


def plan_of(record: Record, source: StudioProblem) -> Solution:
    """Return what of a record still applies to the problem as it is now.

    Firings with no pass left, work that is done and closed pieces are dropped. The rest
    may break rules; the checker says so.
    """
    return _Reading(source).plan(record)


class _Reading:
    def __init__(self, source: StudioProblem) -> None:
        self.source = source
        self.ids = {pk: one for one, pk in source.piece_pks.items()}
        self.people = {pk: one for one, pk in source.person_pks.items()}
        self.kilns = {pk: one for one, pk in source.kiln_pks.items()}
        self.pieces = {one.id: one for one in source.problem.pieces}
        self.by_pass: dict[int, tuple[str, int, int]] = {}
        self.by_ref: dict[tuple[int, int, int], tuple[str, int, int]] = {}
        for at, ref in source.pass_refs.items():
            if ref.of_pass is not None:
                self.by_pass[ref.of_pass] = at
            self.by_ref[ref.layer, ref.attempt, ref.number] = at

    def plan(self, record: Record) -> Solution:
        tasks = [self._task(row) for row in record["work"]]
        fuses = [self._fuse(row) for row in record["fuses"]]
        firings = [self._firing(row) for row in record["firings"]]
        return Solution(
            firings=tuple(one for one in firings if one is not None),
            fuses=tuple(one for one in fuses if one is not None),
            work=tuple(one for one in tasks if one is not None),
            delivery={
                self.ids[int(pk)]: self.source.calendar.day_of(date.fromisoformat(day))
                for pk, day in record["deliveries"].items()
                if int(pk) in self.ids
            },
            undelivered=tuple(
                self.ids[pk] for pk in record["undelivered"] if pk in self.ids
            ),
        )

    def _slot(self, text: str) -> int:
        return slot_from(datetime.fromisoformat(text), self.source.calendar.origin)

    def _at(self, row: Record) -> tuple[str, int, int] | None:
        """Return the pass of the problem that a row means; none when it is done."""
        found = self.by_pass.get(row["pass"]) if row["pass"] else None
        if found is None and row["pass"] is None:
            found = self.by_ref.get((row["layer"], row["attempt"], row["number"]))
        return found

    def _firing(self, row: Record) -> EnamelFiring | None:
        kiln = self.kilns.get(row["kiln"])
        items, kinds = [], []
        for item in row["items"]:
            at = self._at(item)
            if at is None or at[0] not in self.pieces:
                continue
            kinds.append(self.pieces[at[0]].layers[at[1]][at[2]].kind)
            items.append(
                Item(
                    piece=at[0],
                    layer=at[1],
                    position=at[2],
                    x_mm=item["x"],
                    y_mm=item["y"],
                    is_turned=item["turned"],
                )
            )
        if kiln is None or not items:
            return None
        return EnamelFiring(
            id=f"{kiln} {row['starts_at']}",
            kiln=kiln,
            kind=kinds[0],
            load_start=self._slot(row["starts_at"]),
            unload_start=self._slot(row["opens_at"]),
            items=tuple(
                item
                for item, kind in zip(items, kinds, strict=True)
                if kind == kinds[0]
            ),
        )

    def _fuse(self, row: Record) -> FuseFiring | None:
        kiln, piece = self.kilns.get(row["kiln"]), self.ids.get(row["piece"])
        if kiln is None or piece is None or self.pieces[piece].fuse is None:
            return None
        return FuseFiring(
            id=f"{kiln} {row['starts_at']}",
            kiln=kiln,
            piece=piece,
            load_start=self._slot(row["starts_at"]),
            unload_start=self._slot(row["opens_at"]),
        )

    def _task(self, row: Record) -> Task | None:
        person, own = self.people.get(row["person"]), self.ids.get(row["piece"])
        if person is None or own is None:
            return None
        piece, skill = self.pieces[own], SKILLS[row["task"]]
        layer = position = None
        if skill is Skill.PAINT:
            at = self._at(row)
            if at is None or not piece.layers[at[1]][at[2]].labour:
                return None
            layer, position = at[1], at[2]
        elif skill is Skill.ASSEMBLE and not piece.assembly:
            return None
        segments = tuple((self._slot(a), self._slot(b)) for a, b in row["segments"])
        return Task(
            piece=own,
            task=skill,
            person=person,
            segments=segments,
            layer=layer,
            position=position,
        )


def standing_record(plan: Plan, now: datetime) -> Record:
    """Return what the standing plan still has planned and may move, as a record."""
    studio, taken = plan.studio, taken_record(plan)
    firings, fuses = [], []
    for one in movable_firings(studio, now):
        booking = one.booking
        row: dict[str, Any] = {
            "kiln": booking.kiln_id,
            "kind": one.kind,
            "starts_at": booking.starts_at.astimezone(UTC).isoformat(),
            "opens_at": one.unload_at.astimezone(UTC).isoformat(),
            "ends_at": booking.ends_at.astimezone(UTC).isoformat(),
        }
        if one.kind != FiringKind.ENAMEL:
            fuses += [{**row, "piece": item.piece_id} for item in one.items.all()]
            continue
        row["items"] = [
            {
                **_ref_row(item),
                "x": item.x_mm,
                "y": item.y_mm,
                "turned": item.is_turned,
            }
            for item in one.items.all()
        ]
        firings.append(row)
    work = [
        {
            **_ref_row(task),
            "person": task.person_id,
            "task": task.task,
            "segments": task.segments,
        }
        for task in planned_work(studio)
    ]
    return {
        "firings": firings,
        "fuses": fuses,
        "work": work,
        "deliveries": taken.get("deliveries", {}),
        "undelivered": taken.get("undelivered", []),
    }


def taken_record(plan: Plan) -> Record:
    """Return the record of the accepted option; empty when there is none."""
    for option in plan.options:
        if option["name"] == plan.taken:
            found: Record = option["record"]
            return found
    return {}


def _ref_row(row: PlannedItem | PlannedWork) -> Record:
    return {
        "piece": row.piece_id,
        "layer": row.layer_id,
        "attempt": row.attempt,
        "number": row.number,
        "pass": row.of_pass_id,
    }


def published_plan(source: StudioProblem, plan: Plan | None) -> Solution:
    """Return the standing plan as the planner's value; empty when there is none."""
    return (
        Solution()
        if plan is None
        else plan_of(standing_record(plan, source.calendar.now), source)
    )
