"""Translates a studio's rows into the planner's problem: kilns, hours, people, what is
in the kilns, and what is left to do on every open piece.

It only reads. What no row holds is assumed, and listed in `StudioProblem.assumptions`.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from firing.loads.selectors.firings import standing_items
from firing.loads.selectors.planned import Confirmed, PassRef, standing_plan
from firing.models import FiringKind, ScheduleRule
from firing.planning.problem.cannot import Cannot
from firing.planning.problem.problem import (
    PlannedPass,
    PlannedPiece,
    Problem,
    Skill,
    Window,
    joined,
)
from firing.planning.spans.slots import slot_from, slot_until
from firing.plans.selectors.calendar import (
    PlanCalendar,
    StandingFirings,
    calendar_of,
    standing_in,
)
from firing.plans.selectors.ids import kiln_id, person_id, piece_id
from firing.plans.selectors.people import each_once, plan_people
from firing.plans.selectors.workshop import PlanWorkshop, slots
from firing.schedules.selectors.fits import kilns
from firing.schedules.selectors.fuse_anneal import hours_rule
from studio.errors import Refused
from studio.labour import BenchTimes, Task
from studio.models import Glass, Studio, Technique
from studio.selectors.bench_times import bench_times_of
from studio.selectors.pieces import LayerView, PieceView, open_pieces
from studio.stages import Stage
from studio.viewer import Viewer

MINUTE_S = 60.0
ARTIST_SKILLS = frozenset({Skill.PAINT, Skill.ASSEMBLE})
ROW_WORDS = {
    ScheduleRule.NEXT_ROW: "the table's next row",
    ScheduleRule.ROW: "the table's row at or above their thickness",
}
ASSUMPTIONS = (
    "Every firing takes as long as in the slowest kiln that can take it; fuses are "
    "annealed by {row}.",
    "What stands in the kilns stays where it is, and open pieces come first.",
)
# The stack is already made up; what remains is closing the dams and a last look.
LAST_LOOK = 1
FUSED_STAGES = frozenset({Stage.TO_INSPECT})
STACKED_STAGES = frozenset({Stage.STACKED, Stage.TACKED, Stage.FIRE_AGAIN})


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkSpec:
    """A stack that does not exist yet, as plain numbers."""

    title: str
    width_mm: float
    height_mm: float
    layer_count: int
    painted_count: int
    passes_per_layer: int
    glass: Glass
    is_dammed: bool
    is_decal: bool
    bench: BenchTimes


@dataclass(frozen=True, slots=True, kw_only=True)
class StudioProblem:
    """A studio as the planner sees it.

    Attributes
    ----------
    problem : Problem
        With the open pieces that can be planned.
    artists : tuple of str
        Ids of the people who can paint and stack.
    left_out : tuple of str
        Open pieces that could not be planned, each with its reason in a sentence.
    piece_pks, person_pks, kiln_pks : mapping
        Keys of the rows by their ids in the problem.
    called : mapping
        What a reader calls each id; names that come twice have their key behind them.
    pass_refs : mapping
        Which row each pass of the problem is: by piece, layer and position.
    fuse_kinds : mapping
        What each piece that is still to be fused is fired for.
    known, assumptions : tuple of str
        What people set about their own hours, and what no row says and was taken
        instead: a sentence each.
    away_days : mapping
        Days of the plan on which somebody is away, by id.
    hopeless : mapping
        Why pieces that no plan can hold were taken out of the problem, by id.
    ruled_out : frozenset of int
        Keys of open pieces that are not in the problem though nothing has happened to
        them: `left_out` says why.
    """

    studio: Studio
    problem: Problem
    calendar: PlanCalendar
    workshop: PlanWorkshop
    artists: tuple[str, ...]
    left_out: tuple[str, ...]
    piece_pks: Mapping[str, int]
    person_pks: Mapping[str, int]
    kiln_pks: Mapping[str, int]
    called: Mapping[str, str]
    pass_refs: Mapping[tuple[str, int, int], PassRef]
    fuse_kinds: Mapping[str, str]
    known: tuple[str, ...]
    assumptions: tuple[str, ...]
    away_days: Mapping[str, frozenset[int]]
    hopeless: Mapping[str, Cannot] = field(default_factory=dict)
    ruled_out: frozenset[int] = frozenset()

    def call(self, one: str) -> str:
        """Return the reader's name for an id of the problem."""
        return self.called.get(one, one)


def plan_problem(
    *,
    studio: Studio,
    now: datetime,
    weeks: int,
    tasks: tuple[Task, ...],
    due_dates: Mapping[int, date],
    glasses: Iterable[Glass] = (),
) -> StudioProblem:
    """Return what is to be planned in a studio from now on.

    Parameters
    ----------
    weeks : int
        How far ahead, from this week's Monday.
    tasks : tuple of Task
        By whose rules each piece takes its time.
    due_dates : mapping
        Promised dates by the pieces' keys; firing knows no commissions.
    glasses : iterable of Glass
        Others than those of open pieces that will be asked for.
    """
    calendar = calendar_of(studio, now=now, weeks=weeks)
    in_use = list(kilns(studio).order_by("pk"))
    views = open_pieces(studio)
    standing = standing_in(studio, in_use, calendar)
    workshop = PlanWorkshop(
        in_use,
        [
            *glasses,
            *(view.piece.glass for view in views),
            *(one.layer.glass for view in views for one in view.layers),
        ],
        Viewer.of_studio(studio),
        rule=hours_rule(studio),
    )
    who_works = plan_people(studio, calendar)
    people = who_works.people
    person_pks = {person_id(pk): pk for pk in who_works.called}
    confirmed = Confirmed(standing_plan(studio), now)
    people = tuple(
        replace(who, booked=_booked(confirmed, person_pks[who.id], calendar))
        for who in people
    )
    artists = tuple(p.id for p in people if p.skills >= ARTIST_SKILLS)
    rows = _Pieces(
        studio=studio,
        calendar=calendar,
        workshop=workshop,
        standing=standing,
        confirmed=confirmed,
        tasks=tasks,
        due_dates=due_dates,
        artists={
            pk: name
            for pk, name in sorted(who_works.called.items())
            if person_id(pk) in artists
        },
    )
    titles = each_once([(one.piece.pk, one.piece.title) for one in views])
    found = rows.all(views, titles)
    return StudioProblem(
        studio=studio,
        problem=Problem(
            horizon=calendar.horizon,
            access=calendar.access,
            kinds=workshop.kinds,
            kilns=workshop.planned_kilns(standing.closed),
            people=people,
            fixed=standing.fixed,
            pieces=tuple(found),
        ),
        calendar=calendar,
        workshop=workshop,
        artists=artists,
        left_out=tuple(rows.left_out),
        piece_pks=rows.pks,
        person_pks=person_pks,
        kiln_pks={kiln_id(kiln.pk): kiln.pk for kiln in in_use},
        called={
            **{kiln_id(kiln.pk): kiln.name for kiln in in_use},
            **{person_id(pk): name for pk, name in who_works.called.items()},
            **{piece_id(pk): title for pk, title in titles.items()},
        },
        pass_refs=rows.pass_refs,
        fuse_kinds=rows.fuse_kinds,
        known=who_works.known,
        assumptions=(
            *who_works.assumptions,
            *(words.format(row=ROW_WORDS[workshop.rule]) for words in ASSUMPTIONS),
        ),
        away_days=who_works.away_days,
        ruled_out=frozenset(rows.ruled_out),
    )


def _booked(
    confirmed: Confirmed, person: int, calendar: PlanCalendar
) -> tuple[Window, ...]:
    """Return the work still to do before confirmed firings."""
    windows = [
        (
            max(slot_until(starts_at, calendar.origin), calendar.start),
            min(slot_from(ends_at, calendar.origin), calendar.horizon),
        )
        for starts_at, ends_at in confirmed.booked.get(person, [])
    ]
    return joined(tuple(one for one in windows if one[0] < one[1]))


def new_piece(
    source: StudioProblem, spec: WorkSpec, *, key: str, artist: str, release: int
) -> PlannedPiece:
    """Return a stack that does not exist yet as a piece of the problem, with that id.

    Raises
    ------
    Refused
        When no kiln can take it; says why, kiln by kiln.
    """
    workshop, glass, bench = source.workshop, spec.glass, spec.bench
    has_passes = bool(spec.painted_count and spec.passes_per_layer)
    clear = spec.layer_count - spec.painted_count
    layers_not_in: frozenset[str] = frozenset()
    painted: tuple[PlannedPass, ...] = ()
    if has_passes:
        layers_not_in = workshop.layers_not_in(
            [glass], width_mm=spec.width_mm, height_mm=spec.height_mm
        )
        painted = _passes(
            workshop.kind_of[glass.pk],
            spec.passes_per_layer,
            bench,
            is_decal=spec.is_decal,
        )
    fits = workshop.stack_fits(
        kind=FiringKind.FULL_FUSE,
        thickness_mm=spec.layer_count * glass.sheet_thickness_mm,
        width_mm=spec.width_mm,
        height_mm=spec.height_mm,
        glass=glass,
        is_dammed=spec.is_dammed,
    )
    return PlannedPiece(
        id=key,
        artist=artist,
        release=release,
        due_day=None,
        weight=0,
        width_mm=spec.width_mm,
        depth_mm=spec.height_mm,
        height_mm=fits.height_mm,
        fuse=fits.fuse,
        layers=(painted,) * spec.painted_count + ((),) * clear,
        layer_height_mm=glass.sheet_thickness_mm,
        assembly=slots(
            (bench.assembly_minutes + clear * bench.cutting_minutes_per_layer)
            * MINUTE_S
        ),
        coldwork=slots(bench.coldwork_minutes * MINUTE_S),
        ship_days=0,
        layers_not_in=layers_not_in,
        stack_not_in=fits.not_in,
    )


def _passes(
    kind: str, count: int, bench: BenchTimes, *, is_decal: bool
) -> tuple[PlannedPass, ...]:
    """Return the passes of a sheet that is still to be cut."""
    painting = bench.minutes_of_pass(is_decal=is_decal) * MINUTE_S
    cutting = bench.cutting_minutes_per_layer * MINUTE_S
    return tuple(
        PlannedPass(kind=kind, labour=slots(painting + (0 if n else cutting)))
        for n in range(count)
    )


class _Pieces:
    """Open pieces for the planner, one by one; `left_out` names those it cannot plan."""

    def __init__(
        self,
        *,
        studio: Studio,
        calendar: PlanCalendar,
        workshop: PlanWorkshop,
        standing: StandingFirings,
        confirmed: Confirmed,
        tasks: tuple[Task, ...],
        due_dates: Mapping[int, date],
        artists: Mapping[int, str],
    ) -> None:
        self.calendar, self.workshop, self.tasks = calendar, workshop, tasks
        self.benches: dict[int, BenchTimes] = {}
        self.standing, self.confirmed = standing, confirmed
        self.pass_refs: dict[tuple[str, int, int], PassRef] = {}
        self.fuse_kinds: dict[str, str] = {}
        self.due_dates, self.artists = due_dates, artists
        self.left_out: list[str] = []
        self.ruled_out: set[int] = set()
        self.pks: dict[str, int] = {}
        self.load: Counter[str] = Counter()
        self.pass_until: dict[int, int] = {}
        self.stack_until: dict[int, int] = {}
        held = standing_items(studio).filter(firing__finished_at__isnull=True)
        for item in held.select_related("firing").order_by("pk"):
            end = standing.end_of_booking.get(item.firing.booking_id)
            if end is None:
                continue
            if item.of_pass_id is not None:
                self.pass_until[item.of_pass_id] = end
            elif item.piece_id is not None:
                self.stack_until[item.piece_id] = end
        self.stacked_by_hand = set(self.stack_until)
        for piece, booking in confirmed.stack_until.items():
            if booking in standing.end_of_booking:
                end = standing.end_of_booking[booking]
                self.stack_until.setdefault(piece, end)

    def all(
        self, views: Sequence[PieceView], titles: Mapping[int, str]
    ) -> list[PlannedPiece]:
        """Return the pieces that can be planned; titles are what readers call them."""
        found = []
        self.benches = {v.piece.pk: bench_times_of(v, self.tasks) for v in views}
        # The oldest first: pieces without a maker are shared out in that order.
        for view in sorted(views, key=lambda v: (v.piece.created_at, v.piece.pk)):
            title = titles[view.piece.pk]
            if view.stage is Stage.CRACKED:
                self.left_out.append(f"{title} is cracked: decide what to do with it.")
                continue
            try:
                piece = self._piece(view, title)
            except Refused as problem:
                self.left_out.append(f"{title} is not reckoned with. {problem}")
                self.ruled_out.add(view.piece.pk)
                continue
            self.load[piece.artist] += sum(p.labour for r in piece.layers for p in r)
            self.pks[piece.id] = view.piece.pk
            found.append(piece)
        return found

    def _piece(self, view: PieceView, title: str) -> PlannedPiece:
        piece = view.piece
        base = self._fused(view, self._artist(view, title))
        until = self.stack_until.get(piece.pk)
        if view.stage in FUSED_STAGES or until is not None:
            if piece.pk not in self.stacked_by_hand and until is not None:
                self._refuse_unready(view)
            return replace(base, release=max(base.release, until or 0))
        is_stacked = view.stage in STACKED_STAGES
        layers, refs, ready = ((), (), 0) if is_stacked else self._layers(view)
        glasses = {one.layer.glass.pk: one.layer.glass for one in view.layers}
        layers_not_in: frozenset[str] = frozenset()
        if any(layers):
            layers_not_in = self.workshop.layers_not_in(
                list(glasses.values()),
                width_mm=piece.width_mm,
                height_mm=piece.height_mm,
            )
        again = view.stage is Stage.FIRE_AGAIN and view.is_fused
        kind = FiringKind.RE_ANNEAL if again else FiringKind.FULL_FUSE
        fits = self.workshop.stack_fits(
            kind=kind,
            thickness_mm=view.height_mm,
            width_mm=piece.width_mm,
            height_mm=piece.height_mm,
            glass=piece.glass,
            is_dammed=piece.is_dammed,
        )
        assembly = slots(self.benches[piece.pk].assembly_minutes * MINUTE_S)
        self.fuse_kinds[base.id] = kind
        for layer, row in enumerate(refs):
            for position, ref in enumerate(row):
                self.pass_refs[base.id, layer, position] = ref
        return replace(
            base,
            release=max(base.release, ready),
            height_mm=fits.height_mm,
            fuse=fits.fuse,
            layers=layers,
            assembly=LAST_LOOK if is_stacked else assembly,
            layers_not_in=layers_not_in,
            stack_not_in=fits.not_in,
        )

    def _fused(self, view: PieceView, artist: int) -> PlannedPiece:
        """Return the piece as if only cold work were left."""
        piece, due = view.piece, self.due_dates.get(view.piece.pk)
        return PlannedPiece(
            id=piece_id(piece.pk),
            artist=person_id(artist),
            release=self.calendar.start,
            due_day=None if due is None else self.calendar.day_of(due),
            weight=0 if due is None else 1,
            width_mm=piece.width_mm,
            depth_mm=piece.height_mm,
            height_mm=view.height_mm,
            fuse=None,
            layers=(),
            layer_height_mm=piece.glass.sheet_thickness_mm,
            assembly=0,
            coldwork=slots(self.benches[piece.pk].coldwork_minutes * MINUTE_S),
            ship_days=0,
        )

    def _artist(self, view: PieceView, title: str) -> int:
        """Return the key of the piece's maker, or of whoever has least to paint."""
        if not self.artists:
            raise Refused("Nobody here paints and stacks: no owner or maker is active.")
        planned = self.confirmed.artist_of.get(view.piece.pk)
        for named in (view.piece.maker_id, planned):
            if named is not None and named in self.artists:
                return named
        found = min(self.artists, key=lambda pk: (self.load[person_id(pk)], pk))
        name = self.artists[found]
        self.left_out.append(f"{title} has no maker: reckoned as {name}'s work.")
        return found

    def _refuse_unready(self, view: PieceView) -> None:
        """Refuse a piece with a confirmed fuse and a layer in no confirmed firing.

        Raises
        ------
        Refused
            With the layers.
        """
        left = [one.number for one in view.layers if self._left(one)[0]]
        if left:
            numbers = ", ".join(map(str, left))
            raise Refused(
                f"Its fuse is confirmed, yet layer {numbers} is not done and in no "
                "confirmed firing. Give that booking back, so that it can be planned."
            )

    def _layers(
        self, view: PieceView
    ) -> tuple[
        tuple[tuple[PlannedPass, ...], ...], tuple[tuple[PassRef, ...], ...], int
    ]:
        """Return the passes left per layer, their rows, and the slot they all wait for."""
        layers: list[tuple[PlannedPass, ...]] = []
        refs: list[tuple[PassRef, ...]] = []
        ready = 0
        for one in view.layers:
            left, until = self._left(one)
            layers.append(tuple(planned for planned, _ in left))
            refs.append(tuple(ref for _, ref in left))
            ready = max(ready, until)
        longest = max(range(len(layers)), key=lambda n: len(layers[n]), default=None)
        if ready and longest is not None and layers[longest]:
            *before, last = layers[longest]
            last = replace(last, not_before=max(last.not_before, ready))
            layers[longest] = (*before, last)
            ready = 0
        return tuple(layers), tuple(refs), ready

    def _left(self, one: LayerView) -> tuple[list[tuple[PlannedPass, PassRef]], int]:
        """Return a layer's passes still to plan; if none, when its last firing is out."""
        kind = self.workshop.kind_of.get(one.layer.glass.pk)
        if kind is None:
            return [], 0
        left: list[tuple[PlannedPass, PassRef]] = []
        until = 0
        for planned, ref in self._passes_of(one, kind):
            end = self._held_until(ref)
            if end is not None:
                until = end
                continue
            left.append((replace(planned, not_before=until), ref))
        return left, 0 if left else until

    def _passes_of(
        self, one: LayerView, kind: str
    ) -> list[tuple[PlannedPass, PassRef]]:
        """Return the passes not burnt on, including those of a sheet still to be cut."""
        layer, bench = one.layer, self.benches[one.layer.piece_id]
        is_decal = layer.technique == Technique.DECAL
        if one.sheet is None:
            attempt = 1 + max((s.attempt for s in one.earlier_sheets), default=0)
            coming = _passes(kind, layer.planned_passes, bench, is_decal=is_decal)
            return [
                (planned, PassRef(layer.pk, attempt, n))
                for n, planned in enumerate(coming, start=1)
            ]
        painting = slots(bench.minutes_of_pass(is_decal=is_decal) * MINUTE_S)
        return [
            (
                PlannedPass(kind=kind, labour=0 if p.painted_at else painting),
                PassRef(layer.pk, one.sheet.attempt, p.number, p.pk),
            )
            for p in one.passes
            if not p.outcome
        ]

    def _held_until(self, ref: PassRef) -> int | None:
        """Return when a pass comes out of the fixed firing that holds it."""
        if ref.of_pass in self.pass_until:
            return self.pass_until[ref.of_pass]
        booking = self.confirmed.booking_of(ref)
        return None if booking is None else self.standing.end_of_booking.get(booking)
