"""The page of a new load: what is waiting, what fits, and when it could start."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from firing.drawings.load_plan import LaidThing, LoadPlanDrawing, build_load_plan
from firing.kiln_time.selectors.free_starts import NOT_FREE, free_in
from firing.kiln_time.selectors.offers import Offer, offer_of
from firing.loads.selectors.firings import looks_of_items, piece_of
from firing.loads.selectors.loads import (
    best_kiln,
    fitting,
    glass_of,
    left_out_beside,
    plan_load,
    waiting_passes,
)
from firing.loads.selectors.planned import planned_load
from firing.loads.selectors.saved_schedules import enamel_schedules, why_not_for
from firing.models import Firing, FiringKind, PlannedFiring, Schedule
from firing.physics.kiln.model import KilnRun
from firing.physics.schedule import PhysicsProblem
from firing.plans.selectors.places import ready_of, take_over_words
from firing.schedules.selectors.programmes import (
    load_s_of,
    propose_enamel,
    run_of,
)
from firing.schedules.selectors.schedules import programme_of
from studio.models import Glass, Kiln, Pass, Studio
from studio.selectors.pictures import looks_of_layers
from studio.viewer import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class PassRow:
    """One waiting pass on the page."""

    of_pass: Pass
    is_ticked: bool
    reason: str
    is_without_room: bool
    src: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceGroup:
    """The waiting passes of one piece."""

    title: str
    rows: tuple[PassRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadProposal:
    """A kiln with its proposed load and time."""

    kilns: tuple[Kiln, ...]
    kiln: Kiln
    groups: tuple[PieceGroup, ...]
    drawing: LoadPlanDrawing
    chosen_count: int
    laid_count: int
    more_count: int
    waiting_count: int
    offer: Offer | None
    peak_c: float
    problem: str
    programmes: tuple["ProgrammeRow", ...]
    planned: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgrammeRow:
    """An enamel schedule for a load; the standing one has no key."""

    key: str
    words: str
    note: str
    is_chosen: bool


def propose_load(
    *,
    studio: Studio,
    kilns: Sequence[Kiln],
    kiln: Kiln | None,
    ticked: Sequence[str] | None,
    viewer: Viewer,
    now: datetime,
    by: str = "",
) -> LoadProposal | None:
    """Return the proposal for a kiln, by default the best; none without kilns.

    `ticked` are the passes chosen so far; without them it is what the plan has for that
    firing, or else everything that fits. `by` is the key of a saved enamel schedule, as
    typed; anything else means the standing programme.
    """
    waiting = list(waiting_passes(studio))
    planned = planned_load(studio, waiting, kiln=kiln, after=now)
    if kiln is None and planned is not None:
        kiln = planned.booking.kiln
    kiln = kiln or best_kiln(kilns=kilns, passes=waiting, viewer=viewer)
    if kiln is None:
        return None
    if ticked is not None:
        chosen = [p for p in waiting if str(p.pk) in ticked]
    else:
        # What the plan has in it goes first, so that nothing is displaced by accident.
        chosen = ready_of(planned, waiting) or fitting(waiting, kiln, viewer=viewer)
    shown = plan_load(kiln=kiln, passes=chosen, glass=None, viewer=viewer)
    picked = {p.pk for p in chosen}
    others = [p for p in waiting if p.pk not in picked]
    reasons = {
        out.of_pass.pk: out for out in left_out_beside(shown, others, viewer=viewer)
    }
    looks = looks_of_layers(studio, [one.sheet.layer_id for one in waiting])
    groups = defaultdict(list)
    for one in waiting:
        out = reasons.get(one.pk)
        groups[one.sheet.layer.piece].append(
            PassRow(
                of_pass=one,
                is_ticked=one.pk in picked,
                reason="" if out is None or out.is_for_want_of_room else out.reason,
                is_without_room=out is not None and out.is_for_want_of_room,
                src=looks.get(one.sheet.layer_id, ""),
            )
        )
    serving = [
        one
        for one in enamel_schedules(studio, kiln)
        if not why_not_for(one, kiln=kiln, passes=[laid.of_pass for laid in shown.laid])
    ]
    chosen_schedule = next((one for one in serving if str(one.pk) == by), None)
    drawing = build_load_plan(
        [
            _laid(
                laid.of_pass,
                laid.placed.x_mm,
                laid.placed.y_mm,
                is_turned=laid.placed.is_turned,
                src=looks.get(laid.of_pass.sheet.layer_id, ""),
                viewer=viewer,
            )
            for laid in shown.laid
        ],
        width_mm=kiln.shelf_width_mm,
        depth_mm=kiln.shelf_depth_mm,
        title=f"The shelf of {kiln} from above, with {_layers(len(shown.laid))}",
        length=viewer.length,
    )
    glass = shown.glass or (glass_of(waiting[0]) if waiting else None)
    offer, peak_c, problem = (
        (None, 0.0, "")
        if glass is None
        else _offer(kiln, glass, chosen_schedule, planned, now)
    )
    return LoadProposal(
        kilns=tuple(kilns),
        kiln=kiln,
        groups=tuple(
            PieceGroup(title=str(piece), rows=tuple(rows))
            for piece, rows in groups.items()
        ),
        drawing=drawing,
        chosen_count=len(chosen),
        laid_count=len(shown.laid),
        more_count=sum(p.pk not in reasons for p in others),
        waiting_count=len(waiting),
        programmes=_programmes(serving, chosen_schedule, viewer),
        planned=take_over_words(planned, waiting, viewer, now)
        if planned is not None
        else "",
        offer=offer,
        peak_c=peak_c,
        problem=problem,
    )


def _programmes(
    serving: Sequence[Schedule], chosen: Schedule | None, viewer: Viewer
) -> tuple[ProgrammeRow, ...]:
    """Return the standing programme and the saved ones, if there is a choice."""
    standing = ProgrammeRow(
        key="",
        words="The studio's standing programme",
        note="Common practice for single sheets.",
        is_chosen=chosen is None,
    )
    return (
        standing,
        *(
            ProgrammeRow(
                key=str(one.pk),
                words=f"{one.name}, version {one.version}",
                note=f"{viewer.duration(one.basis['kiln_s'])} from cold to opening; "
                f"computed for {viewer.length(one.thickness_mm)}{_stays(one)}, kept "
                f"{viewer.day(one.made_at)}.",
                is_chosen=one == chosen,
            )
            for one in serving
        ),
    )


def _stays(schedule: Schedule) -> str:
    band = schedule.basis.get("residual_mpa")
    return f", up to {band[-1]:.2f} MPa stays" if band else ""


def _run_of(
    kiln: Kiln, glass: Glass, schedule: Schedule | None
) -> tuple[KilnRun, float]:
    """Return the kiln's run under a schedule, or the standing one, and its peak."""
    if schedule is None:
        proposal = propose_enamel(glass=glass, kiln=kiln)
        return proposal.run, proposal.fitted.peak_c
    return run_of(kiln, schedule), programme_of(schedule).peak_c


def _offer(
    kiln: Kiln,
    glass: Glass,
    schedule: Schedule | None,
    planned: PlannedFiring | None,
    now: datetime,
) -> tuple[Offer | None, float, str]:
    """Return when the load could run, how hot it gets, and what is in the way."""
    try:
        run, peak_c = _run_of(kiln, glass, schedule)
    except PhysicsProblem as problem:
        return None, 0.0, str(problem)
    offer = offer_of(
        free_in(kiln, now, now=now),
        run,
        load_s=load_s_of(FiringKind.ENAMEL),
        planned=planned,
    )
    return offer, peak_c, "" if offer else NOT_FREE.format(kiln=kiln)


def _layers(count: int) -> str:
    return "1 layer" if count == 1 else f"{count} layers"


def _laid(
    of_pass: Pass,
    x_mm: float,
    y_mm: float,
    *,
    is_turned: bool,
    src: str,
    viewer: Viewer,
) -> LaidThing:
    layer = of_pass.sheet.layer
    sides = (layer.piece.width_mm, layer.piece.height_mm)
    width_mm, depth_mm = sides[::-1] if is_turned else sides
    return LaidThing(
        title=f"{of_pass} of {layer.piece}",
        short=str(layer.number),
        under=str(layer.piece),
        size=viewer.size(width_mm, depth_mm),
        x_mm=x_mm,
        y_mm=y_mm,
        width_mm=width_mm,
        depth_mm=depth_mm,
        is_turned=is_turned,
        src=src,
    )


def drawing_of(firing: Firing, *, viewer: Viewer) -> LoadPlanDrawing | None:
    """Return a firing's load plan; none when nothing in it has a place."""
    things = []
    items = list(firing.items.all())
    looks = looks_of_items(firing.studio, items)
    for item in items:
        if item.x_mm is None or item.y_mm is None:
            continue
        if item.of_pass is not None:
            things.append(
                _laid(
                    item.of_pass,
                    item.x_mm,
                    item.y_mm,
                    is_turned=item.is_turned,
                    src=looks[item.pk],
                    viewer=viewer,
                )
            )
            continue
        piece = piece_of(item)
        if piece is not None:
            things.append(
                LaidThing(
                    title=str(piece),
                    short=str(piece),
                    size=viewer.size(piece.width_mm, piece.height_mm),
                    src=looks[item.pk],
                    x_mm=item.x_mm,
                    y_mm=item.y_mm,
                    width_mm=piece.width_mm,
                    depth_mm=piece.height_mm,
                )
            )
    if not things:
        return None
    kiln = firing.kiln
    return build_load_plan(
        things,
        width_mm=kiln.shelf_width_mm,
        depth_mm=kiln.shelf_depth_mm,
        title=f"The shelf of {kiln} from above",
        length=viewer.length,
    )
