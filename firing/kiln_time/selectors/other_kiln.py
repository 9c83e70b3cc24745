"""How the load of a booking would run in a kiln: as booked, or anew in another.

In its own kiln a booking keeps its curve. Another kiln heats and cools differently, so
the programme is fitted to it and the span is as long as that takes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from firing.kiln_time.selectors.booking_loads import BookingLoad
from firing.models import Booking, Firing, FiringKind, ScheduleRule
from firing.physics.schedule import PhysicsProblem
from firing.planning.packing.shelf import Flat, Placed, lay_out
from firing.planning.problem import practice
from firing.planning.spans.moving import Task
from firing.schedules.selectors.fits import stack_problems
from firing.schedules.selectors.fuse_anneal import hours_rule
from firing.schedules.selectors.programmes import (
    ROWS,
    Proposal,
    curve_points,
    held_s,
    propose_enamel,
    propose_stack,
)
from firing.schedules.selectors.refusal_words import refusal_words
from studio.models import Glass, Kiln
from studio.selectors.pieces import fresh
from studio.viewer import Viewer

RULED_KINDS = (FiringKind.FULL_FUSE, FiringKind.TACK_FUSE, FiringKind.RE_ANNEAL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """A booking as it would be in a kiln, or why it cannot be there.

    `curve` is its planned curve there, `proposal` the programme behind it where it
    differs from the booked one, `placed` where its sheets would be.
    """

    task: Task
    curve: Sequence[Sequence[float]]
    problems: tuple[str, ...] = ()
    proposal: Proposal | None = None
    placed: tuple[Placed, ...] = ()


def placement_in(
    booking: Booking, load: BookingLoad, kiln: Kiln, viewer: Viewer
) -> Placement:
    """Return how a booking would run in a kiln; in its own one nothing changes."""
    curve = booking.planned_curve
    lasts = booking.ends_at - booking.starts_at
    if getattr(booking, "planned_firing", None) is not None and curve:
        # A planned booking lasts until the kiln is emptied; that wait is its own
        # place's only.
        lasts = timedelta(seconds=held_s(curve))
    own = Placement(task=_task(load, lasts=lasts, curve=curve), curve=curve)
    if kiln.is_retired:
        return _refused(own, [f"{kiln} is no longer in use. Choose another kiln."])
    if kiln.pk == booking.kiln_id or not booking.planned_curve:
        return own
    if not load.things:
        return _refused(
            own, [f"What is in it is not known, so only {booking.kiln} can take it."]
        )
    if not _is_proposed(booking, load):
        return _refused(
            own,
            [
                f"Its schedule was designed for {booking.kiln}. Design one for {kiln} "
                "and book that instead."
            ],
        )
    if any(thing.is_stack for thing in load.things):
        return _stack_in(booking, load, kiln, viewer, own)
    return _sheets_in(load, kiln, viewer, own)


def _is_proposed(booking: Booking, load: BookingLoad) -> bool:
    """Return whether its programme follows a rule, so any kiln can have its own."""
    firing: Firing | None = getattr(booking, "firing", None)
    rule = None if firing is None else ScheduleRule(firing.schedule.rule)
    if load.is_enamel:
        return rule in {None, ScheduleRule.STANDARD}
    return load.kind in RULED_KINDS and (rule is None or rule in ROWS)


def _task(
    load: BookingLoad, *, lasts: timedelta, curve: Sequence[Sequence[float]]
) -> Task:
    if not curve:
        return Task(lasts=lasts)
    return Task(
        lasts=lasts,
        load=timedelta(seconds=load_s(load)),
        cold=timedelta(seconds=curve[-1][0]),
        unload=timedelta(seconds=practice.UNLOAD_S),
    )


def load_s(load: BookingLoad) -> float:
    """Return how long loading takes."""
    has_stack = any(thing.is_stack for thing in load.things)
    return practice.LOAD_STACK_S if has_stack else practice.LOAD_SHEETS_S


def _refused(own: Placement, problems: Sequence[str]) -> Placement:
    return Placement(task=own.task, curve=own.curve, problems=tuple(problems))


def _anew(load: BookingLoad, proposal: Proposal, placed: Sequence[Placed]) -> Placement:
    curve = curve_points(proposal.run, load_s=proposal.load_s)
    return Placement(
        task=_task(load, lasts=timedelta(seconds=held_s(curve)), curve=curve),
        curve=curve,
        proposal=proposal,
        placed=tuple(placed),
    )


def _sheets_in(
    load: BookingLoad, kiln: Kiln, viewer: Viewer, own: Placement
) -> Placement:
    glass = hottest_glass(load)
    laid = lay_out(
        [
            Flat(
                key=number,
                width_mm=thing.piece.width_mm,
                depth_mm=thing.piece.height_mm,
            )
            for number, thing in enumerate(load.things)
        ],
        width_mm=kiln.shelf_width_mm,
        depth_mm=kiln.shelf_depth_mm,
        gap_mm=practice.SHEET_GAP_MM,
    )
    problems = []
    if laid.left_out:
        problems.append(
            f"Only {len(laid.placed)} of its {len(load.things)} layers fit on the shelf "
            f"of {kiln} ({viewer.size(kiln.shelf_width_mm, kiln.shelf_depth_mm)})."
        )
    if glass.enamel_c > kiln.max_temperature_c:
        problems.append(
            f"It needs {viewer.temperature(glass.enamel_c)} and {kiln} reaches "
            f"{viewer.temperature(kiln.max_temperature_c)}."
        )
    if problems:
        return _refused(own, problems)
    try:
        proposal = propose_enamel(glass=glass, kiln=kiln)
    except PhysicsProblem as problem:
        return _refused(own, [f"{kiln}: {refusal_words(problem, viewer)}"])
    return _anew(load, proposal, laid.placed)


def hottest_glass(load: BookingLoad) -> Glass:
    """Return the glass whose programme an enamel load is fired by."""
    return max(
        (thing.glass for thing in load.things),
        key=lambda glass: (glass.sheet_thickness_mm, glass.enamel_c, -glass.pk),
    )


def _stack_in(
    booking: Booking, load: BookingLoad, kiln: Kiln, viewer: Viewer, own: Placement
) -> Placement:
    firing: Firing | None = getattr(booking, "firing", None)
    piece = load.things[0].piece
    height_mm = fresh(piece).height_mm
    if firing is None:
        rule = hours_rule(viewer.studio)
    else:
        rule = ScheduleRule(firing.schedule.rule)
    kind = FiringKind(load.kind)
    problems = stack_problems(
        kiln=kiln,
        kind=kind,
        width_mm=piece.width_mm,
        depth_mm=piece.height_mm,
        height_mm=height_mm,
        glass=piece.glass,
        is_dammed=piece.is_dammed,
        viewer=viewer,
    )
    if problems:
        told = " ".join(problems)
        return _refused(own, [f"{kiln} cannot take {piece.title}. {told}"])
    try:
        proposal = propose_stack(
            kind=kind,
            rule=rule,
            thickness_mm=height_mm,
            glass=piece.glass,
            kiln=kiln,
        )
    except PhysicsProblem as problem:
        return _refused(own, [f"{kiln}: {refusal_words(problem, viewer)}"])
    return _anew(load, proposal, ())
