"""Moves a booking to another start, or to another kiln that takes its load."""

from collections.abc import Sequence
from datetime import UTC, datetime

from django.db import transaction

from firing.kiln_time.selectors.booking_loads import EMPTY, BookingLoad, booking_loads
from firing.kiln_time.selectors.moving import MoveVerdict, judge_move
from firing.kiln_time.selectors.other_kiln import hottest_glass
from firing.kiln_time.selectors.unloading import Unloading
from firing.kiln_time.services.bookings import kiln_time_guarded
from firing.locks import lock_all_kilns, lock_pieces
from firing.models import Booking, Firing, FiringKind, LoadItem, PlannedFiring, Schedule
from firing.planning.packing.shelf import Placed
from firing.plans.services.confirmation import confirm
from firing.schedules.services.schedules import (
    compute_enamel_schedule,
    compute_fuse_schedule,
)
from studio.errors import Refused
from studio.models import Kiln, Person
from studio.services import history
from studio.services.locks import held
from studio.tenancy import same_studio
from studio.viewer import Viewer


class NotMoved(Refused):
    """The booking stays where it is; `problems` say why, one sentence each."""

    def __init__(self, verdict: MoveVerdict, near: str) -> None:
        self.problems = [*verdict.problems, *([near] if near else [])]
        super().__init__(" ".join(self.problems))
        self.verdict = verdict


@transaction.atomic
def move_booking(
    *,
    booking: Booking,
    kiln: Kiln,
    starts_at: datetime,
    by: Person | None,
    at: datetime,
) -> Booking:
    """Move a booking that has not started; in its own kiln it keeps its curve.

    In another kiln its firing gets that kiln's own schedule and length.

    Raises
    ------
    NotMoved
        Naming every rule in the way, and the nearest start that is permitted.
    KilnTaken
        When somebody else booked the time at the same moment.
    Refused
        When the booking was moved to a third kiln meanwhile.
    """
    same_studio(booking.studio, kiln)
    kilns = {one.pk: one for one in (booking.kiln, kiln)}
    # Lock all kilns, as confirming a planned load does, and always in one order.
    lock_all_kilns(booking.studio)
    current: Booking = (
        held(Booking.across_studios)
        .select_related("studio", "kiln__studio", "firing__schedule", "planned_firing")
        .get(pk=booking.pk)
    )
    if current.kiln_id not in kilns:
        raise Refused(
            f"“{current.title}” was moved to {current.kiln} meanwhile. Look again."
        )
    load = booking_loads(current.studio, [current]).get(current.pk, EMPTY)
    lock_pieces(load.pieces)
    viewer = Viewer.of_studio(current.studio)
    verdict = judge_move(current, kiln=kiln, starts_at=starts_at, viewer=viewer, now=at)
    if not verdict.is_permitted:
        near = verdict.nearest
        words = f"The nearest start is {viewer.moment(near, at)}." if near else ""
        raise NotMoved(verdict, words)
    before = (current.kiln, current.starts_at)
    _write(current, verdict, at)
    if kiln.pk != before[0].pk:
        _change_kiln(current, kiln, load, verdict.placement.placed, by, at)
    _note(current, load, before, viewer, by, at)
    _keep_there(current, by, at)
    return current


def _keep_there(booking: Booking, by: Person | None, at: datetime) -> None:
    """Confirm a planned load that a person moved, so that no plan puts it back.

    A fuse may have any start, so it needs no confirmation.
    """
    planned: PlannedFiring | None = getattr(booking, "planned_firing", None)
    if planned is None or not booking.is_provisional:
        return
    if planned.kind == FiringKind.ENAMEL:
        confirm(studio=booking.studio, bookings=[booking.pk], by=by, at=at)
        booking.is_provisional = False


def _write(booking: Booking, verdict: MoveVerdict, at: datetime) -> None:
    booking.kiln = verdict.kiln
    booking.starts_at = verdict.starts_at.astimezone(UTC)
    booking.ends_at = verdict.ends_at.astimezone(UTC)
    booking.planned_curve = [list(point) for point in verdict.placement.curve]
    with kiln_time_guarded(
        booking.kiln, booking.starts_at, booking.ends_at, at, own=booking
    ):
        booking.save(update_fields=["kiln", "starts_at", "ends_at", "planned_curve"])
    planned: PlannedFiring | None = getattr(booking, "planned_firing", None)
    if planned is not None:
        planned.unload_at = Unloading(booking.studio, at).opened_at(booking.opens_at)
        planned.save(update_fields=["unload_at"])


def _change_kiln(
    booking: Booking,
    kiln: Kiln,
    load: BookingLoad,
    placed: Sequence[Placed],
    by: Person | None,
    at: datetime,
) -> None:
    """Give the firing the kiln's own schedule, and its sheets their places there."""
    firing: Firing | None = getattr(booking, "firing", None)
    planned: PlannedFiring | None = getattr(booking, "planned_firing", None)
    holder = firing or planned
    if holder is None:
        return
    if firing is not None:
        firing.kiln = kiln  # As its row is by now, with its booking.
        firing.schedule = _schedule(firing, kiln, load, by, at)
        firing.save(update_fields=["schedule"])
    items = [item for item in holder.items.order_by("pk") if not _is_foreign(item)]
    spots = {spot.key: spot for spot in placed}
    for number, (item, thing) in enumerate(zip(items, load.things, strict=True)):
        if thing.is_stack:
            item.x_mm = max(0.0, (kiln.shelf_width_mm - thing.piece.width_mm) / 2)
            item.y_mm = max(0.0, (kiln.shelf_depth_mm - thing.piece.height_mm) / 2)
        else:
            item.x_mm, item.y_mm = spots[number].x_mm, spots[number].y_mm
            item.is_turned = spots[number].is_turned
        item.save(update_fields=["x_mm", "y_mm", "is_turned"])


def _is_foreign(item: object) -> bool:
    return isinstance(item, LoadItem) and bool(item.description)


def _schedule(
    firing: Firing, kiln: Kiln, load: BookingLoad, by: Person | None, at: datetime
) -> Schedule:
    if firing.kind == FiringKind.ENAMEL:
        return compute_enamel_schedule(
            studio=firing.studio, glass=hottest_glass(load), kiln=kiln, by=by, at=at
        )
    return compute_fuse_schedule(
        piece=load.things[0].piece,
        kiln=kiln,
        rule=firing.schedule.rule,
        by=by,
        at=at,
        kind=firing.kind,
    )


def _note(
    booking: Booking,
    load: BookingLoad,
    before: tuple[Kiln, datetime],
    viewer: Viewer,
    by: Person | None,
    at: datetime,
) -> None:
    kiln, starts_at = before
    was, to = viewer.moment(starts_at, at), viewer.moment(booking.starts_at, at)
    if kiln.pk == booking.kiln_id and was == to:
        return
    if kiln.pk != booking.kiln_id:
        to = f"{booking.kiln}, {to}"
    for piece in load.pieces or (None,):
        history.record(
            studio=booking.studio,
            by=by,
            at=at,
            what=(f"Moved “{booking.title}” from {kiln}, {was} to {to}"),
            piece=piece,
            subject=f"booking {booking.pk}",
        )
